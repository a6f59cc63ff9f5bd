"""Mark the shipped passes by what is true of them: ``python -m console.app.ship_passes_labels``.

The marks stand beside the passes, as an engineer's own would; a rehearsal's pass stays unmarked.
"""

from __future__ import annotations

from console.app.input_file import demo_setup, load_limits, load_scenario, load_setup
from console.app.ship_passes_list import SHIPPED, Recipe
from console.archive.shipped import shipped
from console.bench.labels import FILE_NAME, Label, put_label, read_labels, truth_label
from console.simulation.simulate import simulate


def label_of(recipe: Recipe) -> Label | None:
    """Fly a shipped pass again and give what is known of it."""
    if recipe.exercise:
        return None
    scenario = recipe.change(load_scenario(recipe.scenario))
    limits, setup = load_limits(None), load_setup(demo_setup())
    return truth_label(simulate(scenario, limits, setup, recipe.seed, recipe.start_m).truth)


def main() -> None:
    """Write the file of marks."""
    file = read_labels(shipped("replay_data", "passes", FILE_NAME))
    for recipe in SHIPPED:
        file = put_label(file, recipe.name, label_of(recipe))


if __name__ == "__main__":
    main()

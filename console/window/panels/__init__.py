"""The Watch view's painted panels; a new one is added to this tuple."""

from console.window.panels.calls import CallsPanel
from console.window.panels.exceedances import ExceedancesPanel
from console.window.panels.headline import HeadlinePanel
from console.window.panels.ledger import LedgerPanel
from console.window.panels.status import StatusPanel

PANELS = (HeadlinePanel, CallsPanel, LedgerPanel, ExceedancesPanel, StatusPanel)

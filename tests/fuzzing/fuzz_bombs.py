"""Inputs built to be slow, large or deep: what a fuzzer that keeps to small inputs never meets."""

from __future__ import annotations

from itertools import islice

HEAD = b'format = 1\ntitle = "a"\nrevision = 1\nauthor = "a"\nreason = "a"\n'
CURVE = b"[glide_slope]\ncurve = ["


def toml_bombs(size: int) -> dict[str, bytes]:
    """Give TOML texts of about so many bytes, some of them valid."""
    half, tenth = size // 2, size // 10
    numbered = range(size // 70)
    return {
        "lists in lists": b"format = " + b"[" * half + b"]" * half,
        "lists in lists, readable": b"format = " + b"[" * 300 + b"]" * 300,
        "limits of lists": b"limit = " + b"[" * 300 + b"]" * 300,
        "tables in tables": b"a = " + b"{a=" * half + b"1" + b"}" * half,
        "a dotted key": b".".join([b"a"] * half) + b" = 1",
        "a dotted key in a table": b"a = { " + b".".join([b"'a'"] * half) + b" = 1 }",
        "a dotted header": b"[" + b".".join([b"a"] * half) + b"]",
        "many dotted keys": b"".join(b"k%d.%s = 1\n" % (i, b"a." * 60 + b"a") for i in numbered),
        "a hexadecimal number": HEAD.replace(b"= 1", b"= 0x" + b"f" * size),
        "a seed": b'format = 1\ntitle = "a"\nscenario = "nominal"\nseed = 0x' + b"f" * 4000,
        "a decimal number": b"format = " + b"9" * size,
        "an exponent": b"format = 1e" + b"9" * size,
        "decimals": b"format = 0." + b"1" * size,
        "a list": b"format = [" + b"1," * half + b"]",
        "a curve": HEAD + CURVE + b",".join(b"[%d, 1]" % i for i in range(tenth)) + b"]",
        "empty limits": b"[[limit]]\n" * tenth,
        "keys": b"".join(b"k%d = 1\n" % i for i in range(tenth)),
        "tables": b"".join(b"[t%d]\n" % i for i in range(tenth)),
        "sources": b"".join(b"[source.s%d]\nsigma = {}\n" % i for i in range(size // 20)),
        "steps, each after the one before": HEAD + b"".join(_step(i, i - 1) for i in numbered),
        "steps, each after the next": HEAD + b"".join(_step(i, i + 1) for i in numbered),
        "a long key": b"a" * size + b" = 1",
        "a long text": b'title = "' + b"a" * size + b'"',
        "escapes": b'title = "' + b"\\n" * half + b'"',
        "a text without end": b'title = "' + b"a" * size,
        "quotation marks": b'title = """' + b'"" ' * (size // 3),
        "comments": b"#" * size,
        "blank lines": b"\r\n" * half,
        "blanks": b" " * size,
        "zero bytes": b"\0" * size,
        "no text at all": b"\xff" * size,
        "marks": b"\xef\xbb\xbf" * (size // 3),
    }


def _step(number: int, after: int) -> bytes:
    due = b"{ after_step = %s }" % (b'"s%d"' % max(after, 0))
    return b'[[step]]\nid = "s%d"\nwho = "crew"\nwords = "x"\ndue = %s\n' % (number, due)


def table_bombs(size: int) -> dict[str, bytes]:
    """Give tables of about so many bytes."""
    half = size // 2
    head = b"seq,t,hooks\n"
    window = b"2031-04-10T09:40:00Z,2031-04-10T09:41:00Z,a,coverage,x\n"
    return {
        "columns": b",".join(b"c%d" % i for i in range(size // 6)) + b"\n" + b"," * (size // 6),
        "a column again and again": b"seq," * (size // 4) + b"\n1",
        "short rows": head + b"1\n" * half,
        "long rows": head + b"1,2,3,4\n" * (size // 8),
        "a text without end": head + b'"' + b"a\n" * half,
        "a long cell": head + b"a" * size + b",1,\n",
        "digits": head + b"9" * half + b"," + b"9" * half + b",1\n",
        "hooks": head + b"1,1932100000," + b"1;" * half + b"\n",
        "remarks": b"# a: b\n" * (size // 7),
        "commas": b"," * size,
        "line ends": b"\r" * size,
        "windows": b"start,end,link,kind,note\n" + window * (size // len(window)),
        "bad windows": b"start,end,link,kind,note\n" + b"x,y,a,coverage,x\n" * (size // 17),
    }


def wire_bombs() -> dict[str, bytes]:
    """Give payloads for the sample topic, up to the 64 KiB a message may have."""
    pairs = (b"\xcd%c%c\xc0" % divmod(i, 256) for i in range(65536))
    return {
        "JSON lists in lists": b'0{"a":' + b"[" * 32000 + b"]" * 32000 + b"}",
        "JSON lists without end": b'0{"a":' + b"[" * 65000,
        "JSON digits": b'0{"t":' + b"9" * 65000 + b"}",
        "JSON exponent": b'0{"t":1e' + b"9" * 65000 + b"}",
        "JSON text": b'0{"t":"' + b"\\u0041" * 10000 + b'"}',
        "lists in lists": b"0\x81\xa1a" + b"\x91" * 65000 + b"\xc0",
        "a list of four thousand million": b"0\x81\xa1a\xdd\xff\xff\xff\xff",
        "a map of four thousand million": b"0\xdf\xff\xff\xff\xff",
        "bytes of four thousand million": b"0\x81\xa1a\xc6\xff\xff\xff\xff",
        "numbers as keys": b"0\xde\x3a\x98" + b"".join(islice(pairs, 15000)),
        "one byte too many": b"0{" + b" " * 65536,
        "a topic": b"trel/" + b"a" * 65000 + b"\n{}",
    }


def bombs_for(target: str, size: int) -> dict[str, bytes]:
    """Give what a target is to stand."""
    if target == "wire":
        return wire_bombs()
    if target in {"csv", "coverage", "orbit"}:
        return table_bombs(size)
    return toml_bombs(size)

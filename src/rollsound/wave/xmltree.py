"""Small moves on an XML tree: names are matched without regard to case or namespace, and layout is left readable."""

from __future__ import annotations

from lxml import etree


def name_of(element: etree._Element) -> str:
    """The local name in small letters; empty for comments and the like."""
    tag = element.tag
    return tag.rpartition("}")[2].casefold() if isinstance(tag, str) else ""


def elements(parent: etree._Element) -> list[etree._Element]:
    """The child elements, without comments."""
    return [child for child in parent if isinstance(child.tag, str)]


def children(parent: etree._Element, name: str) -> list[etree._Element]:
    """The child elements of one name."""
    wanted = name.casefold()
    return [child for child in parent if name_of(child) == wanted]


def child(parent: etree._Element, name: str) -> etree._Element | None:
    """The first child element of one name."""
    return next(iter(children(parent, name)), None)


def text_of(element: etree._Element) -> str:
    """An element's own text, without that of elements inside it and without the blanks around it."""
    pieces = [element.text] if isinstance(element.tag, str) else []
    pieces += [each.tail for each in element]
    return "".join(piece for piece in pieces if piece).strip()


def part(parent: etree._Element, name: str) -> str:
    """The text of the first child of one name that has any."""
    return next((text for text in map(text_of, children(parent, name)) if text), "")


def append(parent: etree._Element, name: str) -> etree._Element:
    """A new last child, indented like its neighbours."""
    before = parent[-1] if len(parent) else None
    element = etree.SubElement(parent, name)
    if before is not None:
        element.tail, before.tail = before.tail, parent.text if not (parent.text or "").strip() else before.tail
    else:
        depth = sum(1 for _ in element.iterancestors())
        parent.text = "\n" + "\t" * depth
        element.tail = "\n" + "\t" * (depth - 1)
    return element


def child_or_new(parent: etree._Element, name: str) -> etree._Element:
    """The first child of one name, made if there is none."""
    found = child(parent, name)
    return append(parent, name) if found is None else found


def write(parent: etree._Element, name: str, text: str) -> None:
    """Set the text of the child of one name, made if there is none."""
    put_text(child_or_new(parent, name), text)


def put_text(element: etree._Element, text: str) -> None:
    """Make text the only content of an element."""
    for each in list(element):
        element.remove(each)
    element.text = text or None


def detach(parent: etree._Element, element: etree._Element) -> None:
    """Take a child away together with the blanks after it, keeping any other text."""
    tail = element.tail or ""
    before = element.getprevious()
    last = element.getnext() is None
    parent.remove(element)
    element.tail = tail if not tail.strip() else None
    kept = tail if tail.strip() or last else None
    if kept is not None and before is not None:
        before.tail = kept if not tail.strip() else (before.tail or "") + tail
    elif kept is not None and tail.strip():
        parent.text = (parent.text or "") + tail

"""Text that an XML reader may be given: UTF-8, and nothing in it that makes a small file a large one."""

from brinebook.files.errors import FileProblem


def plain_xml(data: bytes) -> str:
    """
    Decode a file for an XML reader.

    A course or a ride needs no document type, and entities are how a small file becomes a large one; in any other
    encoding they could not be seen. Raises ``FileProblem``.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileProblem("file", f"byte {error.start}", "text in UTF-8") from error
    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        raise FileProblem("file", "with a document type", "XML without a document type")
    return text

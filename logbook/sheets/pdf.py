"""A page as a PDF without a browser, where the extra for it is installed."""

from logbook.errors import InputError


def pdf_of(page: str) -> bytes:
    """The PDF of a page, tagged, the same bytes for the same page.

    Raises:
        InputError: the extra is not installed, or lacks what it needs of the system.
    """
    try:
        from weasyprint import HTML
    except (ImportError, OSError):
        raise InputError(
            "a PDF needs the extra: pip install 'gas-machine-logbook[pdf]'",
            "or print the page from a browser",
        ) from None
    pdf: bytes = HTML(string=page).write_pdf(pdf_tags=True, pdf_identifier=b"gas-machine-logbook")
    return pdf

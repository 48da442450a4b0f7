"""What a form of the shelf sent."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request
from starlette.datastructures import UploadFile


async def typed_texts(request: Request) -> dict[str, str]:
    """The texts of a form, by field. Ticks of one name are joined by semicolons; files are left aside.

    Browsers end the lines of a text area with CR LF; here a line ends with LF.
    """
    texts: dict[str, str] = {}
    async with request.form() as form:
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                continue
            text = value.replace("\r\n", "\n")
            texts[name] = f"{texts[name]}; {text}" if name in texts else text
    return texts


Typed = Annotated[dict[str, str], Depends(typed_texts)]

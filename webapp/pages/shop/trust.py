"""Where a tablet gets the shop's own certificate from, so that it may use the microphone over https."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.keeping import certificates
from webapp.pages.frame.desk import PublicView
from webapp.shop.base.errors import NotFound

router = APIRouter()


@router.get("/trust")
def show(desk: PublicView) -> Response:
    has_one = certificates.days_left(desk.settings.data) is not None
    return desk.render(
        "shop/trust.html",
        names=certificates.names_of(desk.settings.data) if has_one else [],
        fingerprint=certificates.fingerprint(desk.settings.data) if has_one else "",
        port=desk.settings.port,
    )


@router.get("/trust/authority.crt")
def hand_out(desk: PublicView) -> Response:
    """The authority's certificate alone, which is public by nature; no key ever leaves its file."""
    path = certificates.Files.of(desk.settings.data).authority
    if not path.is_file():
        raise NotFound("This shop has no certificate of its own.")
    headers = {"content-disposition": 'attachment; filename="flutebench-authority.crt"'}
    return Response(path.read_bytes(), media_type="application/x-x509-ca-cert", headers=headers)

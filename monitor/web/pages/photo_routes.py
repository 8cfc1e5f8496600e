"""Photos of work: taken out of a form as sent, and shown to whoever may see their craft."""

from collections.abc import Mapping, Sequence
from typing import Annotated

from fastapi import APIRouter, HTTPException, Request, Response
from fastapi import Path as PathParameter
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from monitor.clock import Clock
from monitor.craft.layup import PHOTO_SHA256
from monitor.craft.profile import Profile
from monitor.errors import BadValueError, problem_and_remedy
from monitor.intake.photos import MOST_BYTES, PhotosBusyError, read_photo
from monitor.phrases.complaints import ID
from monitor.phrases.owner_catalogue import TOLD_ACTS
from monitor.store.store import Store
from monitor.web.access.roles import Right
from monitor.web.access.visitor import multipart_form_of, visitor_of
from monitor.web.pages.bench_entry import PHOTO, SentPhotos

_Id = Annotated[str, PathParameter(pattern=ID)]
_Photo = Annotated[str, PathParameter(pattern=f"^{PHOTO_SHA256}$")]


async def sent_photos_of(request: Request) -> SentPhotos:
    """The photos that a form brings along, made small and bare: a dependency."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != "multipart/form-data":
        return SentPhotos()
    form = await multipart_form_of(request)
    files = [one for name, one in form.multi_items() if name == PHOTO]
    contents = [
        await one.read(MOST_BYTES + 1)
        for one in files
        if isinstance(one, UploadFile) and (one.filename or one.size)
    ]
    return await run_in_threadpool(_read_photos, [one for one in contents if one])


def _read_photos(contents: Sequence[bytes]) -> SentPhotos:
    photos, wrong = [], ""
    for number, content in enumerate(contents, start=1):
        try:
            photos.append(read_photo(content))
        except BadValueError as error:
            problem, remedy = problem_and_remedy(error)
            which = f"Photo {number}" if len(contents) > 1 else "The photo"
            wrong = f"{which} cannot be kept: {problem}. {remedy[:1].upper()}{remedy[1:]}."
        except PhotosBusyError as error:
            raise HTTPException(503, str(error), {"Retry-After": "30"}) from error
    return SentPhotos(photos=tuple(photos), wrong=wrong)


def photo_routes(store: Store, profiles: Mapping[str, Profile], clock: Clock) -> APIRouter:
    """Make the routes."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/craft/{craft}/photos/{photo}")
    @routes.get("/owner/{token}/craft/{craft}/photos/{photo}")
    def show_photo(craft: _Id, photo: _Photo, request: Request) -> Response:
        visitor = visitor_of(request)
        with store.snapshot() as tx:
            record = tx.layup.record_of(craft, profiles)
            named = record is not None and any(
                photo in entry.evidence.photo_sha256
                for entry in (
                    record.on_record
                    if visitor.may(Right.READ_YARD)
                    else record.standing(clock.now())
                )
                if visitor.may(Right.READ_YARD) or entry.act in TOLD_ACTS
            )
            unnamed = visitor.may(Right.ENTER_WORK) and tx.photos.sent_to(photo, craft)
            content = tx.photos.content_of(photo) if named or unnamed else None
        if content is None:
            raise HTTPException(404, "there is no such photo of this craft")
        return Response(
            content,
            media_type="image/jpeg",
            headers={"Content-Disposition": "inline"},
        )

    return routes

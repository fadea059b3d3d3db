"""What the record is asked before drafts are judged: few questions of few shapes, sent together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any, NamedTuple, TypeAlias

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from planner.record.events import LINES, Draft, Kind
from planner.record.known import Known
from planner.record.tables import content, event
from planner.record.trips import ask

_AT_ONCE = 512
_FEW = 64
_ABOUT_LINES = frozenset({*LINES, Kind.CORRECTION})

Effort: TypeAlias = tuple[str | None, ...]


class Question(NamedTuple):
    """A query, its values, and who learns from the answer."""

    query: sa.Select[Any]
    values: Mapping[str, object]
    learn: Callable[[Sequence[Any]], None]


HEAD = sa.select(event.c.seq, event.c.hash, event.c.server_clock).order_by(event.c.seq.desc()).limit(1)
# Other machines may write as well: they take turns, in order of asking.
TURN = sa.select(sa.func.pg_advisory_xact_lock(sa.func.hashtext(sa.func.current_schema())))
_GONE = sa.select(event.c.participant).where(event.c.kind == str(Kind.REMOVAL))
_SAID = (content.c.value, content.c.unit, content.c.acceptable, content.c.note)
_LINE = sa.select(
    event.c.seq, event.c.participant, event.c.visit, event.c.number, event.c.step, event.c.at_s,
    event.c.manoeuvre, event.c.effort, event.c.reading, event.c.started, event.c.corrects, event.c.undone,
    event.c.rig, *_SAID,
).outerjoin(content, content.c.seq == event.c.seq).where(
    event.c.kind.in_([sa.literal_column(f"'{kind}'") for kind in sorted(_ABOUT_LINES)])
).order_by(event.c.seq)  # fmt: skip
_REFUSED = (
    sa.select(event.c.seq, content.c.raw, content.c.reason)
    .join(content, content.c.seq == event.c.seq)
    .where(event.c.kind == str(Kind.REFUSED))
)
_PLANS = (
    sa.select(event.c.seq, event.c.plan_version, content.c.raw)
    .outerjoin(content, content.c.seq == event.c.seq)
    .where(event.c.kind == str(Kind.PLAN))
    .order_by(event.c.seq)
)


def recall(connection: Connection, drafts: Sequence[Draft]) -> tuple[Any | None, Known]:
    """The last event (number, hash, clock), None where there is none, and what concerns these drafts.

    On PostgreSQL it waits for its turn first, and holds it until the transaction ends.
    """
    known = Known()
    newest: list[Any] = []
    questions = [*_turn(connection), Question(HEAD, {}, newest.extend), *_questions(known, drafts)]
    answers = ask(connection, [(one.query, one.values) for one in questions])
    for question, rows in zip(questions, answers, strict=True):
        question.learn(rows)
    return (newest[0] if newest else None), known


def _turn(connection: Connection) -> Iterator[Question]:
    if connection.dialect.name == "postgresql":
        yield Question(TURN, {}, lambda rows: None)


def _questions(known: Known, drafts: Sequence[Draft]) -> Iterator[Question]:
    yield Question(_GONE, {}, known.learn_gone)
    for tokens in _parts([draft.token for draft in drafts], _AT_ONCE):
        values = {f"t{n}": token for n, token in enumerate(tokens)}
        yield Question(_tokens(len(tokens)), values, known.learn_tokens)
    yield from _about_lines(known, [draft for draft in drafts if draft.kind in _ABOUT_LINES])
    if any(draft.kind is Kind.REFUSED for draft in drafts):
        yield Question(_REFUSED, {}, known.learn_refused)
    if any(draft.kind is Kind.PLAN for draft in drafts):
        yield Question(_PLANS, {}, known.learn_plans)


def _about_lines(known: Known, drafts: Sequence[Draft]) -> Iterator[Question]:
    """The lines of the efforts that few drafts are about, of the whole visits that many are about."""
    efforts = list(dict.fromkeys((d.participant, d.visit, d.step, d.effort) for d in drafts))
    whole = len(efforts) > _FEW
    places = list(dict.fromkeys(one[:2] for one in efforts)) if whole else efforts
    for part in _parts(places, _FEW):
        values = {f"{name}{n}": cell for n, one in enumerate(part) for name, cell in zip("pvse", one)}  # noqa: B905
        yield Question(_lines(len(part), whole=whole), values, known.learn_rows)


def _parts(things: Sequence[Any], most: int) -> Iterator[Sequence[Any]]:
    """The things in parts as long as powers of two, the last again where some lack: few shapes."""
    for start in range(0, len(things), most):
        part = list(things[start : start + most])
        yield part + [part[-1]] * ((1 << (len(part) - 1).bit_length()) - len(part))


@lru_cache(maxsize=16)
def _tokens(count: int) -> sa.Select[Any]:
    wanted = [sa.bindparam(f"t{n}", type_=sa.Text) for n in range(count)]
    return sa.select(event.c.token, event.c.seq).where(event.c.token.in_(wanted))


@lru_cache(maxsize=32)
def _lines(count: int, *, whole: bool) -> sa.Select[Any]:
    """The lines of so many efforts, or of so many whole visits."""
    return _LINE.where(sa.or_(*(_place(n, whole=whole) for n in range(count))))


def _place(number: int, *, whole: bool) -> sa.ColumnElement[bool]:
    visit = sa.and_(
        event.c.participant == sa.bindparam(f"p{number}", type_=sa.Text),
        event.c.visit == sa.bindparam(f"v{number}", type_=sa.Text),
    )
    if whole:
        return visit
    step = event.c.step.is_not_distinct_from(sa.bindparam(f"s{number}", type_=sa.Text))
    effort = event.c.effort.is_not_distinct_from(sa.bindparam(f"e{number}", type_=sa.Integer))
    return sa.and_(visit, step, effort)

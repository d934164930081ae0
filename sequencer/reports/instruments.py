"""What was found out about instruments, for eyes and for programs: things of a bench, dialects, words tried."""

import textwrap
from collections.abc import Iterator
from datetime import date
from typing import Any

from sequencer.values.dialect import Dialect, Role
from sequencer.values.instruments import CalibrationStatus, Fit, Found, Pace, Survey

WIDTH = 80
MOST_FITS = 5

Json = dict[str, Any]


def survey_text(survey: Survey, dialects: tuple[Dialect, ...], on: date) -> str:
    """What this computer sees, and what a bench file names.

    Args:
        survey: What was found.
        dialects: Those that are shipped.
        on: The day on which calibrations were looked at.
    """
    return "\n".join([*_surroundings(survey), "", *_dialects(dialects), *_bench(survey, on)])


def _surroundings(survey: Survey) -> Iterator[str]:
    yield "Addresses that this computer sees"
    for visible in survey.visible:
        yield f"  {visible.address:<34} {visible.what}".rstrip()
        if visible.trouble:
            yield _wrapped(visible.trouble, "      ")
    if not survey.visible:
        yield "  none"
    yield "Not looked at"
    for unseen in survey.unseen:
        yield f"  {unseen.interface:<9} {unseen.why}"
        if unseen.hint:
            yield _wrapped(f"hint: {unseen.hint}", "            ")


def _dialects(dialects: tuple[Dialect, ...]) -> Iterator[str]:
    yield "Dialects"
    for dialect in dialects:
        yield f"  {dialect.name:<16} {dialect.title}"


def _bench(survey: Survey, on: date) -> Iterator[str]:
    if not survey.bench:
        return
    yield from ("", f"{survey.bench}, on {on.isoformat()}")
    for thing in survey.found:
        place = "  ".join(filter(None, (thing.address, thing.dialect)))
        yield f"  {thing.name:<12} {thing.role:<10} {place}".rstrip()
        if thing.identity:
            yield f"      {thing.identity}"
        if thing.trouble:
            yield _wrapped(f"CANNOT BE USED: {thing.trouble}", "      ")
        if thing.hint:
            yield _wrapped(f"hint: {thing.hint}", "      ")
        if thing.calibration:
            yield _wrapped(_calibration(thing.calibration), "      ")
    count = len(survey.unusable)
    yield f"{len(survey.found) - count} of {len(survey.found)} can be used" + (
        f"; not {', '.join(survey.unusable)}" if count else ""
    )


def _wrapped(text: str, indent: str) -> str:
    """A text on lines of the screen's width; what cannot be broken, an address or a command, stays whole."""
    return textwrap.fill(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )


def _ago(days: int | None) -> str:
    return {None: "on an unknown day", 0: "today", 1: "yesterday"}.get(days, f"{days} days ago")


def _calibration(status: CalibrationStatus) -> str:
    if status.calibrated is None:
        return "never calibrated: points against it are a comparison, without pass or fail"
    if status.age_days is not None and status.age_days < 0:
        return f"calibrated {status.calibrated.isoformat()}, which is still to come: look at the date in the bench file"
    column = f", accuracy column {status.interval}" if status.interval else ""
    overdue = ": OVERDUE, statements are conditional at best" if status.is_overdue else ""
    return f"calibrated {status.calibrated.isoformat()}, {_ago(status.age_days)}{column}{overdue}"


def survey_json(survey: Survey, dialects: tuple[Dialect, ...], on: date) -> Json:
    """The same for programs."""
    return {
        "on": on.isoformat(),
        "visible": [{"address": one.address, "what": one.what, "trouble": one.trouble} for one in survey.visible],
        "not_looked_at": [{"interface": one.interface, "why": one.why, "hint": one.hint} for one in survey.unseen],
        "dialects": [{"name": one.name, "title": one.title, "roles": list(one.roles)} for one in dialects],
        "bench": survey.bench or None,
        "found": [_found_json(thing) for thing in survey.found],
    }


def _found_json(thing: Found) -> Json:
    status = thing.calibration
    return {
        "name": thing.name,
        "role": thing.role,
        "address": thing.address or None,
        "dialect": thing.dialect or None,
        "identity": thing.identity or None,
        "usable": not thing.trouble,
        "trouble": thing.trouble or None,
        "hint": thing.hint or None,
        "calibration": status
        and {
            "calibrated": status.calibrated and status.calibrated.isoformat(),
            "age_days": status.age_days,
            "column": status.interval or None,
            "overdue": status.is_overdue,
        },
    }


def dialect_json(dialect: Dialect, text: str) -> Json:
    """One dialect and its file for programs."""
    return {"dialect": dialect.name, "title": dialect.title, "roles": list(dialect.roles), "text": text}


def fits_text(address: str, identity: str, fits: tuple[Fit, ...]) -> str:
    """Who answered, which dialect is suggested, and what to do next."""
    lines = [f"{address}", f"  {identity}", "", "Questions that it answered, by dialect and role"]
    for fit in fits[:MOST_FITS]:
        lacks = f", without {', '.join(fit.lacks)}" if fit.lacks else ""
        lines.append(f"  {fit.dialect:<16} {fit.role:<11} {fit.answered:>2} of {fit.questions}{lacks}")
    best = fits[0]
    lines.append("")
    if best.is_whole:
        lines.append(f"Suggested: {best.dialect}, as a {best.role}")
        lines.append(f"Next: meterjury instruments --try {address} --dialect {best.dialect}{_as(best.role)}")
    else:
        lines.append("No dialect fits wholly. Begin with the nearest, and change what the instrument's")
        lines.append("programming manual spells differently.")
        lines.append(f"Next: meterjury instruments --dialect {best.dialect} > mine.toml")
    return "\n".join(lines)


def _as(role: Role) -> str:
    return f' --as "{role}"' if " " in role else f" --as {role}"


def fits_json(address: str, identity: str, fits: tuple[Fit, ...]) -> Json:
    """The same for programs."""
    return {
        "address": address,
        "identity": identity,
        "fits": [
            {
                "dialect": fit.dialect,
                "role": fit.role,
                "questions": fit.questions,
                "answered": fit.answered,
                "lacks": list(fit.lacks),
            }
            for fit in fits
        ],
    }


def tried_heading(address: str, identity: str, dialect: str, role: Role) -> str:
    """Above the words that are tried."""
    return f"{address}, tried as a {role} with {dialect}\n{identity}\n"


def pace_lines(pace: Pace, before: Pace | None) -> str:
    """One word tried, under the heading of its table where that is another than before."""
    table, _, name = pace.key.rpartition(".")
    about = f" {pace.about}" if pace.about else ""
    lines = [] if before is not None and before.key.rpartition(".")[0] == table else [f"[{table}]{about}"]
    mark = "??" if pace.is_in_the_dark else "ok" if pace.is_good else "NO"
    said, answer = f"  {mark}  {name:<14} {pace.sent:<28}", pace.answer or ""
    if len(said) + 1 + len(answer) <= WIDTH:
        said, answer = f"{said} {answer}", ""
    lines.append(said.rstrip())
    for remark in filter(None, (answer, pace.trouble, *(pace.errors or ()), pace.note)):
        lines.append(f"{'':<21}{remark}")
    return "\n".join(lines)


def tried_summary(paces: tuple[Pace, ...], dialect: str, *, is_source: bool) -> str:
    """Below the words that were tried: how many were understood, and what to do next."""
    bad = tuple(dict.fromkeys(pace.key for pace in paces if not pace.is_good))
    dark = sum(pace.is_in_the_dark for pace in paces)
    understood = sum(pace.is_good for pace in paces) - dark
    lines = ["", f"{len(paces)} words said, {understood} understood and answered."]
    if is_source:
        lines[-1] += " The output is off."
    if dark:
        lines.append(f'{dark} marked ?? may have been refused: no error queue tells. Try next_error = "*ESR?"')
    if bad:
        lines.append(_wrapped(f"Not understood, or answered otherwise: {', '.join(bad)}", ""))
        lines.append("Next: look these words up in its programming manual, change them in a dialect")
        lines.append("file of your own, leave out what it does not have, and try again.")
    else:
        lines.append(f'Next: dialect = "{dialect}" for this device in the bench file.')
    return "\n".join(lines)


def tried_json(address: str, identity: str, dialect: str, role: Role, paces: tuple[Pace, ...]) -> Json:
    """The same for programs."""
    return {
        "address": address,
        "identity": identity,
        "dialect": dialect,
        "role": role,
        "words": [
            {
                "key": pace.key,
                "about": pace.about or None,
                "sent": pace.sent,
                "answer": pace.answer,
                "errors": None if pace.errors is None else list(pace.errors),
                "trouble": pace.trouble or None,
                "note": pace.note or None,
                "good": pace.is_good,
            }
            for pace in paces
        ],
    }

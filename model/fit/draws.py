"""When water is drawn, to parts of a second: a pump that begins between two rows of a log begins there in a replay.

A log's rows are means over their seconds. That of a second in which a pump begins or ends is lower than its
neighbour's; by how much says in which part of the second it ran. Smeared over the whole of it, the first cold water
would come too early and too thin, which in a thermoblock is seen for half a minute.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boilerfront.model.duty import Duty
from boilerfront.model.fit import replay as at
from boilerfront.model.fit.log import Log
from boilerfront.model.props.water import density
from boilerfront.shared.shapes import Bools, Floats

LEAST_FLOW_G_S = 0.05
"""Less than this is a flow meter at rest."""
LEAST_PART_S = 0.02
"""A shorter part of a second is not told from none."""


@dataclass(frozen=True)
class Draws:
    """The flow of each second while water is drawn in it, and from when `since_s` until when `until_s` it is: [n].

    A second in which nothing is drawn is whole: from 0 to 1.
    """

    flow_kg_s: Floats
    since_s: Floats
    until_s: Floats

    def with_ends(self, named: Bools) -> Bools:
        """Return the seconds `named` [n] and those in a part of which what they name begins or ends."""
        found = named.copy()
        found[1:] |= named[:-1] & (self.flow_kg_s[1:] > 0.0) & (self.until_s[1:] < 1.0)
        found[:-1] |= named[1:] & (self.flow_kg_s[:-1] > 0.0) & (self.since_s[:-1] > 0.0)
        return found

    def parted(self, inputs: Floats) -> Floats:
        """Return inputs of whole seconds [n, NI], those cut in parts in which a draw begins or ends.

        The part before a draw is as the second before it, the part after one as the second after it.
        """
        rows = []
        for k, (since, until) in enumerate(zip(self.since_s, self.until_s, strict=True)):
            for begin, end, like in ((0.0, since, k - 1), (since, until, k), (until, 1.0, k + 1)):
                if end > begin:
                    rows.append(_part(inputs, k, like, end - begin))
        return np.array(rows)


def _part(inputs: Floats, k: int, like: int, span_s: float) -> Floats:
    """Return a part of second k, where flow and portafilter are those of the second `like`."""
    row: Floats = inputs[k].copy()
    if like != k:
        row[at.I_FLOW_KG_S] = 0.0
        row[at.I_JOINED] = inputs[min(max(like, 0), len(inputs) - 1), at.I_JOINED]
    row[at.I_SPAN_S] = span_s
    row[at.I_SUBS] = np.ceil(row[at.I_SUBS] * span_s)
    return row


def draws_of(log: Log, duty: Duty, edges: Floats, inlet_C: float) -> Draws:
    """Return when and how fast water is drawn: as metered, else the duty's course of the shots that events name."""
    metered = means(log, "flow_g_s", edges)
    return _named(log, duty, edges, inlet_C) if metered is None else _metered(1e-3 * above_rest(metered))


def _metered(flow_kg_s: Floats) -> Draws:
    """Return draws of which the mean of each second is known.

    A draw's first second is compared with its second one, its last with the one before; a draw of two seconds or of
    one says nothing of when in them it was.
    """
    count = flow_kg_s.size
    around = np.concatenate([[0.0, 0.0], flow_kg_s, [0.0, 0.0]])
    before, after = around[1 : count + 1], around[3 : count + 3]
    on = flow_kg_s > 0.0
    first = on & (before == 0.0) & (after > 0.0) & (around[4:] > 0.0)
    last = on & (after == 0.0) & (before > 0.0) & (around[:count] > 0.0)
    beside = np.where(first, after, before)
    part = np.ones(count)
    ends = first | last
    part[ends] = flow_kg_s[ends] / beside[ends]
    part = np.where((part < 1.0 - LEAST_PART_S) & (part > LEAST_PART_S), part, 1.0)
    since = np.where(first, 1.0 - part, 0.0)
    until = np.where(last, part, 1.0)
    return Draws(flow_kg_s / part, since, until)


def _named(log: Log, duty: Duty, edges: Floats, inlet_C: float) -> Draws:
    """Return the shots that the events name, by the duty's flows."""
    flow, since_s, until_s = np.zeros(edges.size - 1), np.zeros(edges.size - 1), np.ones(edges.size - 1)
    stops = [when for when, text in log.events if text.lower() == "stop"]
    for when, text in log.events:
        word, _, named = text.lower().partition(" ")
        if word != "shot":
            continue
        planned = duty.flows[named or "nominal"]
        stop = min([stop for stop in stops if stop > when], default=when + planned.stop_s)
        begin, end = (np.clip(moment - edges[:-1], 0.0, 1.0) for moment in (when, stop))
        on = end - begin > LEAST_PART_S
        along = np.clip((edges[:-1] + 0.5 * (begin + end) - when - duty.fill_s) / duty.ramp_s, 0.0, 1.0)
        course = duty.fill_mL_s + along * (planned.steady_mL_s - duty.fill_mL_s)
        flow, since_s, until_s = (
            np.where(on, own, others) for own, others in ((course, flow), (begin, since_s), (end, until_s))
        )
    return Draws(1e-6 * density(inlet_C) * flow, since_s, until_s)


def means(log: Log, channel: str, edges: Floats) -> Floats | None:
    """Return the means of a channel between edges [s]: what was metered is kept, however rows lie."""
    if not log.has(channel):
        return None
    time_s, values = log.samples(channel)
    widths = np.diff(np.concatenate([[0.0], time_s]))
    if log.columns.powers == "after":
        widths = np.diff(np.concatenate([time_s, [time_s[-1] + (widths[-1] if widths.size else 1.0)]]))
        time_s = time_s + widths
    metered = np.concatenate([[0.0], np.cumsum(values * widths)])
    begin = 0.0 if log.columns.powers == "before" else float(time_s[0] - widths[0])
    at_edges = np.interp(edges, np.concatenate([[begin], time_s]), metered)
    return np.asarray(np.diff(at_edges) / np.diff(edges))


def above_rest(flow_g_s: Floats) -> Floats:
    """Return a metered flow, 0 where the meter rests."""
    return np.where(flow_g_s > LEAST_FLOW_G_S, flow_g_s, 0.0)

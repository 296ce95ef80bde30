"""The uncertainty of a span's level that is reported, from the blocks that are still kept of it."""

from __future__ import annotations

from dataclasses import replace

from logger.settling import limits as lim
from logger.settling.events import Settled
from logger.settling.level_uncertainty import (
    LevelUncertainty,
    SpanBlocks,
    hold_longer_s,
    level_uncertainty,
    uncertainty_parts,
    with_rise,
)
from logger.settling.signal_model import SignalModel
from logger.settling.span import OpenSpan, Route


def update_uncertainty(model: SignalModel, span: OpenSpan) -> LevelUncertainty:
    """Work out anew the uncertainty of a span that has ended, or has grown enough since it was last worked out."""
    reported = span.reported
    if reported is None or span.count >= span.report_at:
        reported = span.reported = _uncertainty(model, span)
        span.report_at = span.count + 1 + int(lim.REPORT_GROWTH * span.count)
        span.parts = None
    return reported


def end_uncertainty(model: SignalModel, span: OpenSpan) -> None:
    """Work out the uncertainty of a span that has just ended."""
    span.reported = _uncertainty(model, span)
    span.report_at = 0


def growing_event(model: SignalModel, span: OpenSpan) -> Settled:
    """The event of a growing span as it is now, with what its uncertainty consists of."""
    reported = update_uncertainty(model, span)
    if span.parts is None:
        blocks, was_approached = _blocks(model, span), span.approach.route is not Route.FIRST
        span.parts = uncertainty_parts(blocks, model.wander, reported, was_approached)
    end_s = model.history.time_of(span.end_block - 1)
    return Settled(
        span.start_s,
        end_s,
        span.level_volts,
        reported.u_volts,
        span.known_at_s,
        span.samples,
        u_tilt_volts=span.parts.tilt_volts,
        u_averaging_volts=span.parts.averaging_volts,
        u_resolution_volts=reported.resolution_volts,
        hold_longer_s=hold_longer_s(reported.wander_volts, span.level_volts, end_s - span.start_s),
    )


def _blocks(model: SignalModel, span: OpenSpan) -> SpanBlocks:
    """What the span's level rests on, as far as it is still kept."""
    history = model.history
    volts = history.volts_from(max(span.start_block, span.end_block - lim.WANDER_BLOCKS), span.end_block)
    if span.floor_block > span.start_block:
        # It was resumed: what was off its level in between does not belong to it.
        limit = model.deviation_limit()
        on_level = [value for value in volts if abs(value - span.level_volts) < limit]
        volts = on_level if len(on_level) >= lim.MIN_LINE_BLOCKS else volts
    return SpanBlocks(
        volts,
        max(span.count, len(volts)),
        span.samples / span.count,
        model.block_s,
        model.resolution.coarsest_volts,
    )


def _uncertainty(model: SignalModel, span: OpenSpan) -> LevelUncertainty:
    blocks = _blocks(model, span)
    if len(blocks.volts) < lim.MIN_LINE_BLOCKS:
        return LevelUncertainty(model.u_level(span.count), 0.0, None)
    found = with_rise(blocks, model.wander, level_uncertainty(blocks, model.wander), span.rise_volts)
    return replace(found, left_out_volts=span.shift_volts)

// The sizes of each defect by name and unit, as Python states and reads them.
#pragma once

#include "libblade/lines.hpp"

namespace line_sizes {

using namespace libblade;

template <class F>
void visit(BladeNick& d, F&& size) {
    size("depth", "m", d.depth), size("width", "m", d.width);
}
template <class F>
void visit(ScoredRoll& d, F&& size) {
    size("depth", "m", d.depth), size("width", "m", d.width);
}
template <class F>
void visit(WornBand& d, F&& size) {
    size("volume_share", "1", d.volume_share), size("width", "m", d.width);
}
template <class F>
void visit(PluggedCells& d, F&& size) {
    size("share", "1", d.share), size("width", "m", d.width), size("length", "m", d.length),
        size("count", "1", d.count);
}
template <class F>
void visit(HandlingMark& d, F&& size) {
    size("dent", "m", d.dent), size("crushed", "1", d.crushed), size("length", "m", d.length),
        size("width", "m", d.width);
}
template <class F>
void visit(ProppedBlade& d, F&& size) {
    size("lift", "m", d.lift);
}
template <class F>
void visit(RidingBlade& d, F&& size) {
    size("film", "m", d.film);
}
template <class F>
void visit(RunOutBands& d, F&& size) {
    size("run_out", "m", d.run_out);
}
template <class F>
void visit(LodgedParticle& d, F&& size) {
    size("lift", "m", d.lift), size("wiped", "1", d.wiped), size("width", "m", d.width);
}
template <class F>
void visit(BlockedSupply& d, F&& size) {
    size("filled", "1", d.filled), size("width", "m", d.width);
}
template <class F>
void visit(LeakingEndSeal& d, F&& size) {
    size("gap", "m", d.gap), size("width", "m", d.width);
}
template <class F>
void visit(NotThisNip& d, F&& size) {
    size("change", "1", d.change), size("direction", "", d.direction), size("width", "m", d.width),
        size("repeat", "m", d.repeat), size("patchy", "", d.patchy);
}

}  // namespace line_sizes

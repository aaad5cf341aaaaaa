// Words, and what follows from where a defect sits.
#include "libblade/lines.hpp"

namespace libblade {

std::string_view to_string(LineCause cause) noexcept {
    static constexpr std::string_view words[] = {
        "blade_nick", "scored_roll", "worn_band",       "plugged_cells",  "handling_mark",    "propped_blade",
        "riding",     "run_out",     "lodged_particle", "blocked_supply", "leaking_end_seal", "not_this_nip"};
    return words[static_cast<std::size_t>(cause)];
}
std::string_view to_string(Tone tone) noexcept { return tone == Tone::darker ? "darker" : "lighter"; }
std::string_view to_string(LineDirection direction) noexcept {
    static constexpr std::string_view words[] = {"along_web", "across_web", "whole_width", "spots"};
    return words[static_cast<std::size_t>(direction)];
}
std::string_view to_string(Onset onset) noexcept {
    static constexpr std::string_view words[] = {"sudden", "gradual", "at_blade_change", "at_roll_change",
                                                 "after_standstill"};
    return words[static_cast<std::size_t>(onset)];
}

SeatRule seat_rule(LineSeat seat) noexcept {
    switch (seat) {  // moves with the blade, goes when wiped, survives a blade change, survives cleaning of the roll
        case LineSeat::blade:  // part of the edge: travels with it, a wipe leaves it, it goes out with the blade
            return {true, false, false, true};
        case LineSeat::loose:  // clings to the edge and no more; who cleans the roll does not touch the edge
            return {true, true, false, true};
        case LineSeat::roll_surface:  // missing or crushed ceramic stays where it is, whatever else is changed
            return {false, false, true, true};
        case LineSeat::in_cells:  // what has dried in the cells outlasts a wash-up; a deep clean takes it out
            return {false, false, true, true};
        case LineSeat::supply:  // sits in the chamber: no blade change moves it, a wash-up flushes it out
            return {false, false, true, false};
        case LineSeat::end:  // at the web's edge, wherever the blade is; seals are set anew with the blade
            return {false, false, false, true};
        case LineSeat::
            whole_nip:  // the facet as it has worn: nothing local to move or to wipe, a new blade has another
            return {false, false, false, true};
        case LineSeat::elsewhere:  // answers to nothing that is done at this nip
            return {false, false, true, true};
    }
    return {};
}

LineSeat seat_of(LineCause cause) noexcept {
    switch (cause) {
        case LineCause::blade_nick:
        case LineCause::propped_blade:
            return LineSeat::blade;
        case LineCause::lodged_particle:
            return LineSeat::loose;
        case LineCause::scored_roll:
        case LineCause::worn_band:
        case LineCause::handling_mark:
        case LineCause::run_out:  // of the roll's surface against its bearings
            return LineSeat::roll_surface;
        case LineCause::plugged_cells:
            return LineSeat::in_cells;
        case LineCause::blocked_supply:
            return LineSeat::supply;
        case LineCause::leaking_end_seal:
            return LineSeat::end;
        case LineCause::riding:
            return LineSeat::whole_nip;
        case LineCause::not_this_nip:
            return LineSeat::elsewhere;
    }
    return LineSeat::elsewhere;
}

}  // namespace libblade

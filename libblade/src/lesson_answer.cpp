// The door of a lesson: JSON text in, JSON text out.
#include <algorithm>
#include <nlohmann/json.hpp>
#include <utility>

#include "libblade/case_file.hpp"
#include "libblade/error.hpp"
#include "libblade/lesson.hpp"
#include "libblade/nip_outputs.hpp"
#include "libblade/parameters.hpp"

namespace libblade {

namespace {

using Json = nlohmann::ordered_json;

constexpr std::string_view kFormat = "libblade-lesson-1";
constexpr std::size_t kLargest = 1 << 20;
constexpr int kDeepest = 16;
constexpr double kTurned = 1e-6;                        // [rad]; below it a facet lies parallel
constexpr double kUsualLife = 2e5, kLongestLife = 1e6;  // [m]

[[noreturn]] void refuse(std::string field, std::string value, std::string allowed) {
    throw InvalidInput({{std::move(field), std::move(value), std::move(allowed)}});
}

// --- in --------------------------------------------------------------------------------------------------------------

Json parsed(std::string_view text) {
    if (text.size() > kLargest) refuse("request", std::to_string(text.size()) + " bytes", "must be at most 1 MiB");
    bool deep = false;
    const auto shallow = [&deep](int depth, Json::parse_event_t, Json&) {
        deep = deep || depth > kDeepest;
        return depth <= kDeepest;
    };
    Json out;
    try {
        out = Json::parse(text, shallow);
    } catch (const Json::exception& error) {
        refuse("request", "", std::string("must be JSON: ") + error.what());
    }
    if (deep || !out.is_object()) refuse("request", "", deep ? "is nested too deeply" : "must be an object { }");
    return out;
}

std::string written(const Json& value) {
    std::string text = value.dump();
    return text.size() > 60 ? text.substr(0, 57) + "..." : text;
}

/// A field by its path, which may carry the unit; a number, a text with unit, a word, or null to make it absent.
void set_field(Case& target, const std::string& path, const Json& value) {
    const NamedField named = resolve_field(path);
    if (named.field == nullptr) {
        const std::string near = nearest_field(path);
        refuse(path, written(value), "is not a known field" + (near.empty() ? near : "; the nearest is " + near));
    }
    const Field& field = *named.field;
    if (value.is_null()) return clear_field(target, field.path);
    if (field.kind == FieldKind::text) refuse(path, written(value), "cannot be set here");
    const auto words = choices_of(field);
    if (value.is_string()) {
        const auto text = value.get<std::string>();
        if (field.kind == FieldKind::choice || std::find(words.begin(), words.end(), text) != words.end())
            return set_choice(target, field.path, text);
        if (!named.unit.empty()) refuse(path, written(value), "must be a number: the name already carries the unit");
        return set_number(target, field.path, parse_quantity(text, field.dimension, path));
    }
    if (field.kind == FieldKind::choice) refuse(path, written(value), "must be one of " + std::string(field.choices));
    if (!value.is_number()) refuse(path, written(value), "must be a number or a text with unit");
    set_number(target, field.path, to_si(value.get<double>(), named.unit, field.dimension, path));
}

/// Where the facet was run in, as the tip's fields say it; the same spellings as in a case file.
void run_in(Case& target, const Json& where) {
    if (where.is_null()) return;
    if (!std::holds_alternative<Facet>(target.tip)) refuse("run_in", written(where), "needs tip.kind \"facet\"");
    if (where == true) return set_choice(target, "tip.bedding", "here");
    static constexpr const char* words = "takes set_angle and line_load, or bedded_angle and facet_length";
    if (!where.is_object() || where.empty()) refuse("run_in", written(where), std::string(words) + "; or is true");
    const auto is = [](const std::string& key, std::string_view word) { return key.rfind(word, 0) == 0; };
    const std::string& first = where.begin().key();
    const bool setting = is(first, "set_angle") || is(first, "line_load");
    set_choice(target, "tip.bedding", setting ? "elsewhere" : "angle");
    for (const auto& [key, value] : where.items()) {
        const bool good =
            setting ? is(key, "set_angle") || is(key, "line_load") : is(key, "bedded_angle") || is(key, "facet_length");
        if (!good) refuse("run_in." + key, written(value), words);
        set_field(target, (setting ? "tip.bedded_" : "tip.") + key, value);
    }
}

double number_of(const Json& request, const char* key, double otherwise) {
    const auto found = request.find(key);
    if (found == request.end() || found->is_null()) return otherwise;
    if (!found->is_number()) refuse(key, written(*found), "must be a number");
    return found->get<double>();
}

LessonRequest request_of(const Json& request) {
    static constexpr std::string_view known[] = {"case", "set",     "run_in",   "step",        "start",
                                                 "ask",  "drawing", "distance", "approved_ink"};
    for (const auto& [key, value] : request.items())
        if (std::find(std::begin(known), std::end(known), key) == std::end(known))
            refuse(key, written(value), "is not a part of a request");
    LessonRequest out;
    const auto given = request.find("case");
    if (given == request.end()) refuse("case", "", "is missing");
    out.nip_case = read_case(given->dump());
    if (const auto set = request.find("set"); set != request.end() && !set->is_null()) {
        if (!set->is_object()) refuse("set", written(*set), "must be an object of field paths");
        for (const auto& [path, value] : set->items()) set_field(out.nip_case, path, value);
    }
    if (const auto where = request.find("run_in"); where != request.end()) run_in(out.nip_case, *where);
    out.step = number_of(request, "step", 0.0);
    if (request.contains("approved_ink") && !request["approved_ink"].is_null())
        out.approved_ink = number_of(request, "approved_ink", 0.0);
    const Json start = request.value("start", Json("resting")), drawing = request.value("drawing", Json(true));
    if (start != "resting" && start != "riding") refuse("start", written(start), "must be \"resting\" or \"riding\"");
    if (!drawing.is_boolean()) refuse("drawing", written(drawing), "must be true or false");
    out.start = start == "riding" ? Start::riding : Start::resting;
    out.drawing = drawing.get<bool>();
    return out;
}

// --- out: what is no finite number becomes null ----------------------------------------------------------------------

Json array_of(const std::vector<double>& values) { return Json(values); }

Json problems_of(const std::vector<Problem>& problems, const char* message) {
    Json out = Json::array();
    for (const Problem& p : problems) out.push_back({{"field", p.path}, {"value", p.value}, {message, p.message}});
    return out;
}

Json point_of(const OperatingPoint& point) {
    Json out;
    for (const Output& o : outputs::table) out[std::string(o.name)] = point.*o.member;
    out["regime"] = to_string(point.regime);
    out["branch"] = to_string(point.branch);
    out["bedded_stable"] = point.bedded_stable;
    out["other_branch_exists"] = point.other_branch_exists;
    return out;
}

Json facet_of(const FacetPicture& f) {
    return {{"length", f.length},
            {"bedded_angle", f.bedded_angle},
            {"effective_angle", f.effective_angle},
            {"tilt", f.length > 0.0 ? Json(f.tilt) : Json()},
            {"opens_to_ink", f.tilt > kTurned},
            {"whole_end", f.whole_end},
            {"face_angle_ink", f.face_angle_ink},
            {"face_angle_far", f.face_angle_far},
            {"gap_ink_end", f.gap_ink_end},
            {"gap_far_end", f.gap_far_end}};
}

Json blade_of(const Case& c, const BladePicture& blade) {
    return {{"mid", blade.mid},
            {"roll_side", blade.roll_side},
            {"away_side", blade.away_side},
            {"free_mid", blade.free_mid},
            {"thickness", tip_thickness(c.blade)},
            {"roll_radius", c.roll.radius},
            {"contact", blade.contact},
            {"set_angle", c.setting.set_angle},
            {"orientation", get_choice(c, "setting.orientation")}};
}

Json section_of(const Section& s, double facet_length) {
    const bool worn = facet_length > 0.0;
    return {{"x", array_of(s.x)},
            {"gap", array_of(s.gap)},
            {"film_pressure", array_of(s.film_pressure)},
            {"asperity_pressure", array_of(s.asperity_pressure)},
            {"void_fraction", array_of(s.void_fraction)},
            {"facet_from", worn ? Json(-0.5 * facet_length) : Json()},
            {"facet_to", worn ? Json(0.5 * facet_length) : Json()}};
}

Json cells_of(const Case& c) {
    const Engraving& e = c.roll.engraving;
    const std::string pattern = get_choice(c, "roll.engraving.pattern");
    if (e.pattern == Pattern::smooth) return {{"pattern", pattern}};
    return {{"pattern", pattern},
            {"pitch", pitch(e)},
            {"wall", e.wall_width},
            {"depth", cell_depth(e)},
            {"opening", pitch(e) - e.wall_width},
            {"profile", get_choice(c, "roll.engraving.profile")},
            {"volume", cell_volume(e)},
            {"fill", e.fill},
            {"land_fraction", land_fraction(e)}};
}

Json ink_of(const Case& c, const OperatingPoint& point) {
    const auto supply = c.setting.film_supply;
    return {{"arriving", supply ? Json(*supply) : Json()},
            {"on_lands", point.film_on_lands},
            {"clean_wipe_film", point.clean_wipe_film},
            {"excess", point.excess_ink},
            {"in_cells", point.ink_carried - point.film_on_lands},
            {"carried", point.ink_carried},
            {"passing", point.film_on_lands * c.setting.surface_speed}};
}

Json particles_of(const LessonState& state) {
    Json list = Json::array();
    for (const ParticlePicture& p : state.particles) {
        const ParticleFate& f = p.fate;
        Json does = Json::array();
        const std::pair<bool, const char*> all[] = {{f.crushed, p.particle.ductile ? "smears" : "crumbles"},
                                                    {f.props, "props"},
                                                    {f.nicks, "nicks"},
                                                    {f.stays, "stays"},
                                                    {f.dents_roll, "dents"},
                                                    {f.scores, "scores"},
                                                    {f.chips, "chips"}};
        for (const auto& [happens, word] : all)
            if (happens) does.push_back(word);
        list.push_back({{"name", p.particle.name},
                        {"shape", p.particle.shape == ParticleShape::flake ? "flake" : "grain"},
                        {"size", p.particle.median_size},
                        {"thickness", p.particle.shape == ParticleShape::flake ? Json(p.particle.thickness) : Json()},
                        {"hardness", p.particle.hardness},
                        {"enters_share", p.enters},
                        {"enters", p.enters >= 0.5},
                        {"passes", f.passes},
                        {"does", does},
                        {"lift", f.lift},
                        {"blade_depth", f.blade_depth},
                        {"roll_depth", f.roll_depth},
                        {"groove_depth", f.groove_depth},
                        {"groove_width", f.groove_width},
                        {"nick_width", f.nick_width}});
    }
    return {{"invented", true},
            {"note", "Kinds and sizes of these particles are invented for the lesson."},
            {"entry_size", state.entry_size},
            {"list", list}};
}

Json print_of(const WebPrint& p) {
    Json tints = Json::array();
    for (const auto& [area, approved, now] : p.tints)
        tints.push_back({{"area", area}, {"approved_density", approved}, {"density", now}});
    return {{"approved_ink", p.approved_ink},
            {"ink", p.ink},
            {"approved_density", p.approved_density},
            {"density", p.density},
            {"contrast", p.contrast},
            {"visibility", p.visibility},
            {"visible", p.visibility >= 1.0},
            {"tone", p.density > p.approved_density   ? "darker"
                     : p.density < p.approved_density ? "lighter"
                                                      : "same"},
            {"tints", tints}};
}

Json opened(std::string_view status, std::string_view message) {
    return {{"format", kFormat}, {"status", status}, {"message", message}, {"problems", Json::array()}};
}

Json state_answer(const LessonRequest& request) {
    const LessonState state = lesson_state(request);
    const Case& c = state.as_solved;
    const OperatingPoint& point = state.point;
    Json out = opened(to_string(point.convergence.status), point.convergence.message);
    out["unusual"] = problems_of(unusual(c), "note");
    out["case"] = Json::parse(write_case(c));
    const bool solved = point.convergence.ok();
    for (const char* part :
         {"point", "validity", "before", "facet", "blade", "section", "cells", "ink", "particles", "print", "rebed"})
        out[part] = nullptr;
    out["validity"] = Json::array();
    out["cells"] = cells_of(c);
    if (!solved) return out;
    out["point"] = point_of(point);
    for (const ValidityFlag& f : point.validity)
        out["validity"].push_back({{"name", f.name}, {"value", f.value}, {"limit", f.limit}, {"message", f.text()}});
    if (state.before) out["before"] = point_of(*state.before);
    out["facet"] = facet_of(state.facet);
    out["ink"] = ink_of(c, point);
    out["print"] = print_of(state.print);
    out["rebed"] = {{"distance", state.rebedding_distance},
                    {"time", state.rebedding_distance / c.setting.surface_speed}};
    if (!request.drawing) return out;
    out["blade"] = blade_of(c, state.blade);
    out["section"] = section_of(state.section, point.facet_length);
    out["particles"] = particles_of(state);
    return out;
}

Json life_answer(const LessonRequest& request, double distance) {
    if (!(distance > 0.0 && distance <= kLongestLife))
        refuse("distance", number_text(distance), "must be above 0 m, at most 1e6 m");
    const LessonLife life = lesson_life(request, distance);
    const WearHistory& h = life.history;
    Json out = opened(to_string(h.convergence.status), h.convergence.message);
    out["life"] = nullptr;
    if (h.distance.empty()) return out;
    Json regimes = Json::array(), events = Json::array();
    for (const Regime regime : h.regime) regimes.push_back(to_string(regime));
    for (const WearHistoryEvent& e : h.events)
        events.push_back({{"kind", to_string(e.kind)}, {"distance", e.distance}, {"time", e.time}});
    const double sign = request.nip_case.setting.orientation == Orientation::doctoring ? 1.0 : -1.0;
    std::vector<double> tilt;
    for (std::size_t k = 0; k < h.distance.size(); ++k)
        tilt.push_back(sign * (h.bedded_angle[k] - h.effective_angle[k]));
    Json again;
    if (const auto k = life.bedded_again) again = {{"distance", h.distance[*k]}, {"time", h.time[*k]}};
    out["life"] = {{"distance", h.distance},
                   {"time", h.time},
                   {"film_on_lands", h.film_on_lands},
                   {"excess_ink", h.excess_ink},
                   {"facet_length", h.facet_length},
                   {"effective_angle", h.effective_angle},
                   {"facet_tilt", tilt},
                   {"regime", regimes},
                   {"events", events},
                   {"bedded_again", again}};
    return out;
}

}  // namespace

std::string Lesson::answer(std::string_view text) {
    try {
        const Json request = parsed(text);
        const Json ask = request.value("ask", Json("state"));
        if (ask != "state" && ask != "life") refuse("ask", written(ask), "must be \"state\" or \"life\"");
        LessonRequest wanted = request_of(request);
        wanted.tables = &tables_;
        const Json out =
            ask == "life" ? life_answer(wanted, number_of(request, "distance", kUsualLife)) : state_answer(wanted);
        return out.dump();
    } catch (const InvalidInput& error) {
        Json out = opened("bad_input", "");
        out["problems"] = problems_of(error.problems(), "allowed");
        // A message may quote what was given, which is well-formed unless it was cut.
        return out.dump(-1, ' ', false, Json::error_handler_t::replace);
    }
}

}  // namespace libblade

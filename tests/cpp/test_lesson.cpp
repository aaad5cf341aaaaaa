#include "libblade/lesson.hpp"

#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>
#include <string>

#include "expect.hpp"
#include "libblade/case_file.hpp"
#include "libblade/error.hpp"
#include "libblade/parameters.hpp"

using namespace libblade;

namespace {

using Json = nlohmann::json;
constexpr double deg = std::numbers::pi / 180.0;

LessonState state_of(const Case& c, double step = 0.0, Start start = Start::resting) {
    LessonRequest request;
    request.nip_case = c, request.step = step, request.start = start;
    return lesson_state(request);
}
Case run_in_at(double set_angle, double line_load, Case c = {}) {
    std::get<Facet>(c.tip).bedding = BeddedElsewhere{set_angle, line_load};
    return c;
}
std::vector<Case> cases() {
    Case trailing, floating, edge, channels;
    trailing.setting.orientation = Orientation::trailing;
    floating.setting.holding = Holding::floating;
    edge.tip = SquareEdge{};
    channels.roll.engraving.pattern = Pattern::channel;
    return {
        Case{}, trailing, floating, edge, channels, run_in_at(35 * deg, 100.0), run_in_at(31 * deg, 60.0, trailing)};
}
Json asked(Json request) {
    if (!request.contains("case")) request["case"] = Json::parse(write_case(Case{}));
    return Json::parse(Lesson().answer(request.dump()));
}

}  // namespace

TEST_CASE("a lesson's state is the operating point of its case", "[lesson]") {
    NipOptions options;
    options.section = true;
    for (const Case& c : cases()) {
        const LessonState state = state_of(c);
        const OperatingPoint point = solve(c, options);
        REQUIRE(point.convergence.ok());
        REQUIRE(state.point.convergence.ok());
        for (double OperatingPoint::*number : OperatingPoint::numbers())
            CHECK((state.point.*number == point.*number ||
                   (std::isnan(state.point.*number) && std::isnan(point.*number))));
        CHECK(state.point.regime == point.regime);
        CHECK(state.section.gap == point.section.gap);
    }
}

TEST_CASE("a step presses as the operating point's own load step does", "[lesson]") {
    // The two walk there differently: from rest at the new place, and in parts of 2.5 % from the old one.
    for (Case c : {Case{}, cases()[1], cases()[2]}) {
        c.setting.load_step = 0.1;
        const LessonState pressed = state_of(c, 0.1), released = state_of(c, -0.1);
        REQUIRE(pressed.before);
        const double film = solve(c).film_after_step;
        expect_close(std::max({pressed.point.film_on_lands, released.point.film_on_lands, solve(c).film_on_lands}),
                     film, 1e-6, "two ways to one state, each to the solver's 1e-10 of the load");
        CHECK(pressed.before->film_on_lands == solve(c).film_on_lands);
        CHECK(pressed.point.bedded_angle == pressed.before->bedded_angle);
        CHECK(std::abs(pressed.point.facet_length / pressed.before->facet_length - 1.0) < 1e-12);
        if (c.setting.holding == Holding::fixed)
            expect_close(pressed.point.interference / pressed.before->interference, 1.1, 1e-9, "the holder's advance");
        else
            expect_close(pressed.point.line_load / pressed.before->line_load, 1.1, 1e-8, "the load");
    }
}

TEST_CASE("laid lower without running in again, a doctoring blade passes more", "[lesson]") {
    // The facet then opens towards the ink: a slider bearing (Reynolds 1886), which lifts the blade. Steep ones carry less again.
    const auto moved_to = [](double set_angle, Orientation orientation = Orientation::doctoring) {
        Case c = run_in_at(35 * deg, 100.0);
        c.setting.set_angle = set_angle, c.setting.orientation = orientation;
        return state_of(c);
    };
    Case there;
    there.setting.set_angle = 35 * deg;
    const LessonState lower = moved_to(34 * deg), higher = moved_to(36 * deg), lowest = moved_to(28 * deg);
    REQUIRE(lower.before);
    CHECK(lower.before->film_on_lands == solve(there).film_on_lands);
    CHECK(lower.facet.tilt > 0.5 * deg);
    CHECK(lower.facet.gap_ink_end > 3.0 * lower.facet.gap_far_end);
    CHECK(lower.point.film_on_lands > 1.3 * lower.before->film_on_lands);
    CHECK(lower.print.density > lower.print.approved_density);
    CHECK(lowest.point.film_on_lands < lower.point.film_on_lands);
    CHECK(higher.facet.tilt < -0.5 * deg);
    CHECK(higher.facet.gap_ink_end < higher.facet.gap_far_end);
    CHECK(higher.point.film_on_lands < higher.before->film_on_lands);
    // The mirror image.
    const LessonState trailing = moved_to(36 * deg, Orientation::trailing);
    CHECK(trailing.facet.tilt > 0.5 * deg);
    CHECK(trailing.point.film_on_lands > 1.3 * trailing.before->film_on_lands);
    CHECK(moved_to(34 * deg, Orientation::trailing).point.film_on_lands < trailing.before->film_on_lands);
}

TEST_CASE("a facet stated as an earlier answer left it gives that answer again", "[lesson]") {
    for (const Case& base : {Case{}, cases()[1]}) {
        const LessonState first = state_of(run_in_at(33 * deg, 90.0, base));
        Case c = base;
        std::get<Facet>(c.tip) = Facet{first.facet.length, BeddedAngle{first.facet.bedded_angle}, 1e-6};
        const LessonState again = state_of(c);
        CHECK(first.facet.whole_end);
        CHECK(again.facet.whole_end);
        CHECK_FALSE(again.before);
        expect_close(again.point.film_on_lands, first.point.film_on_lands, 1e-6, "the holder is found anew to 1e-10");
    }
}

TEST_CASE("the blade's picture is the blade", "[lesson]") {
    for (const Case& c : cases()) {
        const LessonState state = state_of(c);
        const BladePicture& blade = state.blade;
        const double R = c.roll.radius, L = free_length(c.blade), b = state.point.facet_length;
        // The contact lies on the roll, up to the film; the body where the orientation has it.
        CHECK(std::abs(std::hypot(blade.contact[0], blade.contact[1] + R) - R) < 1e-9);
        CHECK((blade.mid.front()[0] > 0.0) == (c.setting.orientation == Orientation::doctoring));
        const auto apart = [](const auto& p, const auto& q) { return std::hypot(p[0] - q[0], p[1] - q[1]); };
        double along = 0.0;
        for (std::size_t i = 1; i < blade.mid.size(); ++i) along += apart(blade.mid[i - 1], blade.mid[i]);
        expect_close(along, L, 1e-4, "chords of a strip of its length");
        expect_close(apart(blade.free_mid.front(), blade.free_mid.back()), L, 1e-12, "straight");
        expect_close(apart(blade.roll_side[3], blade.away_side[3]), c.blade.thickness, 1e-12, "faces");
        const auto& end = blade.roll_side;
        if (b > 0.0) expect_close(apart(end[end.size() - 2], end.back()), b, 1e-9, "the facet ends the roll side");
        if (state.facet.whole_end) CHECK(apart(end.back(), blade.away_side.back()) < 1e-3 * b);
    }
}

TEST_CASE("the print is told against the approved one", "[lesson]") {
    const LessonState still = state_of(Case{});
    CHECK_FALSE(still.before);
    CHECK(still.print.density == Approx(1.4).epsilon(1e-12));
    CHECK(still.print.visibility < 1e-9);
    LessonRequest request;
    request.approved_ink = 0.5 * still.point.ink_carried;
    const WebPrint twice = lesson_state(request).print;
    // D = D_inf (1 - e^(-m y)) at twice the ink: D_inf (1 - (1 - 1.4 / D_inf)^2) (Tollenaar & Ernst 1961).
    expect_close(twice.density, 1.8 * (1.0 - std::pow(1.0 - 1.4 / 1.8, 2)), 1e-9, "closed form");
    expect_close(twice.contrast, std::pow(10.0, 1.4 - twice.density) - 1.0, 1e-9, "ISO 5-4: R = 10^-D");
    expect_close(twice.visibility, -twice.contrast / 0.1, 1e-9, "10 % against an approved print");
}

TEST_CASE("particles enter a trailing wedge rather than a doctoring one", "[lesson]") {
    const LessonState doctoring = state_of(cases()[0]), trailing = state_of(cases()[1]);
    REQUIRE(doctoring.particles.size() == trailing.particles.size());
    for (std::size_t i = 0; i < doctoring.particles.size(); ++i)
        CHECK(trailing.particles[i].enters >= doctoring.particles[i].enters);
    CHECK(trailing.particles[2].enters > 0.01);
    CHECK(doctoring.particles[2].enters < 0.01);
}

TEST_CASE("a blade that stands on its heel beds again", "[lesson]") {
    LessonRequest request;
    request.nip_case = run_in_at(29.7 * deg, 100.0);
    const LessonState state = lesson_state(request);
    const LessonLife life = lesson_life(request, 1e6);
    REQUIRE(life.bedded_again);
    CHECK(life.history.distance[*life.bedded_again] > 0.1 * state.rebedding_distance);
    CHECK(life.history.distance[*life.bedded_again] < 10.0 * state.rebedding_distance);
    CHECK(std::isnan(state_of(Case{}).rebedding_distance) == false);
    CHECK(state_of(Case{}).rebedding_distance == 0.0);
}

TEST_CASE("the door answers what the values are", "[lesson]") {
    const Json answer = asked({{"set", {{"setting.set_angle_deg", 31}, {"ink.viscosity", "25 mPa s"}}},
                               {"run_in", {{"set_angle_deg", 34}, {"line_load", 90}}},
                               {"step", 0.05}});
    Case c = run_in_at(34 * deg, 90.0);
    c.setting.set_angle = to_si(31.0, "deg", Dimension::angle, "");
    std::get<Facet>(c.tip).bedding = BeddedElsewhere{to_si(34.0, "deg", Dimension::angle, ""), 90.0};
    set_number(c, "ink.viscosity", 0.025);
    const LessonState state = state_of(c, 0.05);
    REQUIRE(answer["status"] == "converged");
    CHECK(answer["point"]["film_on_lands"] == state.point.film_on_lands);
    CHECK(answer["point"]["regime"] == to_string(state.point.regime));
    CHECK(answer["point"].size() == OperatingPoint::numbers().size() + 4);
    CHECK(answer["before"]["ink_carried"] == state.before->ink_carried);
    CHECK(answer["section"]["gap"].get<std::vector<double>>() == state.section.gap);
    CHECK(answer["blade"]["mid"].size() == state.blade.mid.size());
    CHECK(read_case(answer["case"].dump()) == state.as_solved);
    const Json edge = asked({{"set", {{"tip.kind", "square_edge"}}}});
    CHECK(edge["status"] == "converged");
    CHECK(edge["point"]["facet_tilt"] == 0.0);
    CHECK(edge["point"]["bedded_angle"].is_null());
    CHECK(edge["section"]["facet_from"].is_null());
    const Json quick = asked({{"drawing", false}});
    CHECK(quick["blade"].is_null());
    CHECK(quick["point"]["film_on_lands"] == state_of(Case{}).point.film_on_lands);
    const Json riding = asked({{"start", "riding"}, {"run_in", true}});
    CHECK(riding["point"]["branch"] == "riding");
}

TEST_CASE("bad requests are answers that name field, value and range", "[lesson]") {
    const auto first_field = [](const Json& answer) {
        CHECK(answer["status"] == "bad_input");
        REQUIRE_FALSE(answer["problems"].empty());
        CHECK_FALSE(answer["problems"][0]["allowed"].get<std::string>().empty());
        return answer["problems"][0]["field"].get<std::string>();
    };
    CHECK(first_field(asked({{"set", {{"setting.set_angle_deg", 95}}}})) == "setting.set_angle");
    CHECK(first_field(asked({{"set", {{"setting.set_angle", 0.5}}}})) == "setting.set_angle");
    CHECK(first_field(asked({{"set", {{"setting.set_angel", 0.5}}}})) == "setting.set_angel");
    CHECK(first_field(asked({{"set", {{"setting.orientation", "sideways"}}}})) == "setting.orientation");
    CHECK(first_field(asked({{"set", {{"setting.orientation", 1}}}})) == "setting.orientation");
    CHECK(first_field(asked({{"set", {{"setting.line_load", Json::array()}}}})) == "setting.line_load");
    CHECK(first_field(asked({{"set", 1}})) == "set");
    CHECK(first_field(asked({{"step", 3}})) == "step");
    CHECK(first_field(asked({{"step", "much"}})) == "step");
    CHECK(first_field(asked({{"approved_ink", 0}})) == "approved_ink");
    CHECK(first_field(asked({{"run_in", 7}})) == "run_in");
    CHECK(first_field(asked({{"run_in", {{"set_angle_deg", 35}}}})) == "tip.bedded_line_load");
    CHECK(first_field(asked({{"run_in", {{"set_angle_deg", 35}, {"bedded_angle_deg", 30}}}})) ==
          "run_in.set_angle_deg");
    CHECK(first_field(asked({{"run_in", true}, {"set", {{"tip.kind", "square_edge"}}}})) == "run_in");
    CHECK(first_field(asked({{"start", "asleep"}})) == "start");
    CHECK(first_field(asked({{"drawing", 1}})) == "drawing");
    CHECK(first_field(asked({{"ask", "why"}})) == "ask");
    CHECK(first_field(asked({{"ask", "life"}, {"distance", -1}})) == "distance");
    CHECK(first_field(asked({{"colour", "blue"}})) == "colour");
    CHECK(first_field(asked({{"case", {{"blade", {{"thickness_mm", 0.2}}}}}})).find('.') != std::string::npos);
    for (const std::string text : {"", "[1]", "{", "{}", "{\"case\": \"\xff\"}", "{\"case\": 5}"})
        CHECK(first_field(Json::parse(Lesson().answer(text))).size() < 10);
    CHECK(first_field(Json::parse(Lesson().answer(std::string(100000, '[')))) == "request");
    CHECK(first_field(Json::parse(Lesson().answer(std::string(2 << 20, ' ')))) == "request");
    const Json flat = asked(
        {{"set", {{"setting.orientation", "trailing"}, {"setting.set_angle_deg", 15}, {"setting.line_load", 1900}}}});
    CHECK(flat["status"] == "lying_flat");
    CHECK_FALSE(flat["message"].get<std::string>().empty());
    CHECK(flat["point"].is_null());
    CHECK_FALSE(flat["unusual"].empty());
}

#include "catch.hpp"

#include <cmath>
#include <set>
#include <string_view>

#include "libblade/status.hpp"

using namespace libblade;

namespace {
constexpr Status every[] = {Status::not_run,           Status::converged,  Status::max_iterations, Status::stagnated,
                            Status::singular_jacobian, Status::non_finite, Status::step_too_small, Status::lying_flat,
                            Status::unstable,          Status::lifted_off, Status::out_of_range};
}

TEST_CASE("every status has its own word and its own sentence", "[status]") {
    std::set<std::string_view> words, sentences;
    for (const Status status : every) {
        words.insert(to_string(status));
        sentences.insert(describe(status));
        CHECK(to_string(status).find(' ') == std::string_view::npos);
        CHECK(describe(status).back() == '.');
    }
    CHECK(words.size() == std::size(every));
    CHECK(sentences.size() == std::size(every));
    CHECK(words.count("unknown") == 0);
    CHECK(to_string(Status::lying_flat) == "lying_flat");
    // The list above is complete: the next value is none.
    CHECK(to_string(static_cast<Status>(std::size(every))) == "unknown");
}

TEST_CASE("a convergence record starts pessimistic", "[status]") {
    const Convergence fresh;
    CHECK_FALSE(fresh.ok());
    CHECK(std::isinf(fresh.residual));
    CHECK(fresh.status == Status::not_run);
    for (const Status status : every) {
        Convergence record;
        record.status = status;
        CHECK(record.ok() == (status == Status::converged));
    }
}

// The C interface: bytes are a sequence of calls on a case, a solver and a workspace, with names, numbers and sizes out of the
// same bytes. Whatever comes: a known status, an error that says something where one is due, numbers only from what converged.
#include <cmath>
#include <cstring>
#include <string>
#include <vector>

#include "fuzz.hpp"
#include "libblade/c_interface.h"

namespace {

class Bytes {
  public:
    Bytes(const std::uint8_t* data, std::size_t size) : data_(data), left_(size) {}
    [[nodiscard]] bool any() const { return left_ > 0; }
    std::uint8_t byte() {
        if (left_ == 0) return 0;
        --left_;
        return *data_++;
    }
    /// Any bits at all, or a fraction of a range.
    double number(double low, double high) {
        if (byte() % 4 != 0) return low + (high - low) * byte() / 255.0;
        double bits = 0.0;
        std::uint8_t raw[sizeof bits];
        for (std::uint8_t& b : raw) b = byte();
        std::memcpy(&bits, raw, sizeof bits);
        return bits;
    }
    std::string text(std::size_t most) {
        std::string out;
        for (std::size_t n = byte() % most; n > 0; --n) out.push_back(static_cast<char>(byte()));
        return out;
    }

  private:
    const std::uint8_t* data_;
    std::size_t left_;
};

/// A row of the field table, or any text.
blade_field field(Bytes& bytes, std::string& other) {
    blade_field row{};
    if (bytes.byte() % 8 == 0) {
        other = bytes.text(40);
        row.path = other.c_str();
        row.usual_max = 1.0;
    } else {
        FUZZ_REQUIRE(blade_field_at(bytes.byte() % blade_field_count(), &row) == BLADE_CONVERGED);
    }
    return row;
}

bool is_status(int status) { return std::strcmp(blade_status_text(status), "This is no status.") != 0; }

struct Handles {
    blade_case* nip = blade_case_new();
    blade_solver* solver = blade_solver_new();
    blade_workspace* workspace = nullptr;
    std::size_t inputs = 0, outputs = 0;
    std::vector<blade_field> fields;
    ~Handles() {
        blade_workspace_free(workspace);
        blade_solver_free(solver);
        blade_case_free(nip);
    }
};

void change_case(Handles& h, Bytes& bytes) {
    std::string other;
    const blade_field row = field(bytes, other);
    blade_status status = BLADE_NOT_RUN;
    switch (bytes.byte() % 3) {
        case 0:
            status = blade_case_set_number(h.nip, row.path, bytes.number(row.usual_min, row.usual_max));
            break;
        case 1:
            status = blade_case_set_text(h.nip, row.path, bytes.text(40).c_str());
            break;
        default: {
            const std::string json = bytes.text(255);
            status = blade_case_read(h.nip, json.data(), json.size());
        }
    }
    FUZZ_REQUIRE(status == BLADE_CONVERGED || status == BLADE_BAD_INPUT);
    FUZZ_REQUIRE((std::strlen(blade_case_error(h.nip)) > 0) == (status == BLADE_BAD_INPUT));
}

void write_case(Handles& h) {
    std::size_t needed = 0;
    const blade_status asked = blade_case_write(h.nip, nullptr, 0, &needed);
    if (asked != BLADE_TOO_SMALL) return;
    std::string text(needed, ' ');
    FUZZ_REQUIRE(blade_case_write(h.nip, text.data(), text.size() - 1, &needed) == BLADE_TOO_SMALL);
    FUZZ_REQUIRE(blade_case_write(h.nip, text.data(), text.size(), nullptr) == BLADE_CONVERGED);
}

void set_up(Handles& h, Bytes& bytes) {
    blade_workspace_free(h.workspace);
    h.workspace = nullptr;
    h.fields.clear();
    std::vector<std::string> others(4);
    std::vector<const char*> paths, names;
    for (std::size_t n = bytes.byte() % 4; n > 0; --n) {
        h.fields.push_back(field(bytes, others[n]));
        paths.push_back(h.fields.back().path);
    }
    for (std::size_t n = bytes.byte() % 4; n > 0; --n) {
        blade_output row{};
        FUZZ_REQUIRE(blade_output_at(bytes.byte() % blade_output_count(), &row) == BLADE_CONVERGED);
        names.push_back(row.name);
    }
    // Tables of cells take milliseconds: most programs go without.
    if (bytes.byte() % 8 != 0) (void)blade_case_set_number(h.nip, "roll.engraving.pressure_flow_factor", 4.0);
    const blade_status status =
        blade_solver_set_up(h.solver, h.nip, paths.size(), paths.data(), names.size(), names.data(), bytes.byte() % 2);
    FUZZ_REQUIRE(status == BLADE_CONVERGED || status == BLADE_BAD_INPUT);
    FUZZ_REQUIRE((std::strlen(blade_solver_error(h.solver)) > 0) == (status == BLADE_BAD_INPUT));
    if (status != BLADE_CONVERGED) return;
    h.inputs = paths.size(), h.outputs = names.size();
    h.workspace = blade_workspace_new(h.solver);
    FUZZ_REQUIRE(h.workspace != nullptr);
}

void solve(Handles& h, Bytes& bytes) {
    if (h.workspace == nullptr) return;
    const std::size_t points = 1 + bytes.byte() % 3;
    std::vector<double> in, out(points * h.outputs, 0.0);
    for (std::size_t i = 0; i < points; ++i)
        for (const blade_field& f : h.fields) in.push_back(bytes.number(f.usual_min, f.usual_max));
    std::vector<int> statuses(points);
    const auto stride = [](std::size_t n) { return static_cast<std::ptrdiff_t>(n); };
    const blade_many many{points, in.data(),       stride(h.inputs), 1, out.data(), stride(h.outputs),
                          1,      statuses.data(), bytes.byte() % 2};
    if (bytes.byte() % 4 == 0) {
        std::vector<unsigned char> kept(blade_stand_size());
        FUZZ_REQUIRE(blade_workspace_keep(h.workspace, kept.data(), kept.size()) == BLADE_CONVERGED);
        FUZZ_REQUIRE(blade_workspace_put_back(h.workspace, kept.data(), kept.size()) == BLADE_CONVERGED);
    }
    const blade_status all = blade_solve_many(h.solver, h.workspace, &many);
    FUZZ_REQUIRE(is_status(all) && all < BLADE_BAD_ARGUMENT);
    for (std::size_t i = 0; i < points; ++i) {
        FUZZ_REQUIRE(is_status(statuses[i]) && statuses[i] != BLADE_NOT_RUN);
        if (statuses[i] != BLADE_CONVERGED)
            for (std::size_t k = 0; k < h.outputs; ++k) FUZZ_REQUIRE(std::isnan(out[i * h.outputs + k]));
    }
    for (std::size_t k = 0; k < blade_workspace_flag_count(h.workspace); ++k) {
        blade_flag flag{};
        FUZZ_REQUIRE(blade_workspace_flag(h.workspace, k, &flag) == BLADE_CONVERGED);
        FUZZ_REQUIRE(fuzz::is_showable(flag.name) && fuzz::is_showable(flag.message));
    }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    Bytes bytes(data, size);
    Handles h;
    FUZZ_REQUIRE(h.nip != nullptr && h.solver != nullptr);
    for (int calls = 0; bytes.any() && calls < 40; ++calls) {
        switch (bytes.byte() % 4) {
            case 0:
                change_case(h, bytes);
                break;
            case 1:
                write_case(h);
                break;
            case 2:
                set_up(h, bytes);
                break;
            default:
                solve(h, bytes);
        }
    }
    return 0;
}

#include "nip_unit.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>
#include <utility>

#include "libblade/blade.hpp"
#include "libblade/case_file.hpp"
#include "libblade/error.hpp"
#include "libblade/parameters.hpp"

namespace libblade::fmu {

namespace {

constexpr double kInching = 0.01;  // [m/s]
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

std::size_t row_of(std::string_view path) noexcept {
    return static_cast<std::size_t>(find_field(path) - field_table().data());
}

int word_of(const Case& c, Spoken word) {
    const std::string choice = get_choice(c, words()[word].name);
    return choice == words()[word].choices.substr(0, choice.size()) ? 1 : 2;
}

/// What the case has, as the unit shows it.
double number_of(const Case& c, const Field& field) {
    if (!has_field(c, field.path)) return kNan;
    return takes_word(field) && !get_choice(c, field.path).empty() ? 0.0 : get_number(c, field.path);
}

std::string why(const Convergence& convergence) {
    return convergence.message.empty() ? std::string(describe(convergence.status)) : convergence.message;
}

std::string sentence(const WearHistoryEvent& event) {
    return std::string(to_string(event.kind)) + " after " + number_text(event.distance) + " m";
}

}  // namespace

NipUnit::NipUnit(Case shipped) : shipped_(std::move(shipped)) {
    check_carried(shipped_);
    mark_ = instantiation_token() + digest({write_case(shipped_)});
    for (const Field& field : field_table())
        memory_.fields.push_back(input_of(field.path) >= 0 || is_parameter(shipped_, field) ? number_of(shipped_, field)
                                                                                            : kNan);
    memory_.words[regime] = 0, memory_.words[status] = static_cast<int>(Standing::running);
    memory_.words[orientation] = word_of(shipped_, orientation), memory_.words[holding] = word_of(shipped_, holding);
    memory_.words[tier] = 1;
    memory_.numbers.fill(kNan);
}

void NipUnit::recall(const Memory& memory) { memory_ = memory; }

void NipUnit::set_field(std::size_t row, double value) {
    const Field field = field_in(shipped_, field_table()[row]);
    if (std::isnan(memory_.fields[row]))
        throw InvalidInput({{std::string(field.path), number_text(value), "is no number of this unit"}});
    const bool set_apart = value == 0.0 && smallest(field) == 0.0;
    if (!set_apart && !(value >= field.hard_min && value <= field.hard_max))
        throw InvalidInput({{std::string(field.path), quantity_text(value, field.display_unit, field.dimension),
                             "must be " + hard_range_text(field) + (smallest(field) < field.hard_min ? " or 0" : "")}});
    memory_.fields[row] = value;
}

void NipUnit::set_word(Spoken word, int value) {
    const Word& row = words()[word];
    const int last = row.first + static_cast<int>(std::count(row.choices.begin(), row.choices.end(), '|'));
    if (value < row.first || value > last)
        throw InvalidInput({{std::string(row.name), std::to_string(value),
                             "must be " + std::to_string(row.first) + " to " + std::to_string(last) + " (" +
                                 std::string(row.choices) + ")"}});
    memory_.words[word] = value;
}

Inputs NipUnit::wanted() const {
    Inputs out;
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = memory_.fields[row_of(kInputs[i])];
    return out;
}

Case NipUnit::case_at(const Inputs& inputs) const {
    Case c = shipped_;
    for (const Spoken word : {orientation, holding})
        if (memory_.words[word] != word_of(shipped_, word)) {
            const std::string_view choices = words()[word].choices;
            const std::size_t bar = choices.find('|');
            set_choice(c, words()[word].name,
                       memory_.words[word] == 1 ? choices.substr(0, bar) : choices.substr(bar + 1));
        }
    const auto table = field_table();
    for (std::size_t row = 0; row < table.size(); ++row) {
        const Field& field = table[row];
        if (input_of(field.path) >= 0 || std::isnan(memory_.fields[row]) ||
            memory_.fields[row] == number_of(shipped_, field))
            continue;
        if (takes_word(field) && memory_.fields[row] == 0.0)
            set_choice(c, field.path, field.choices);
        else
            set_number(c, field.path, memory_.fields[row]);
    }
    for (std::size_t i = 0; i < inputs.size(); ++i)
        if (inputs[i] != get_number(c, kInputs[i])) set_number(c, kInputs[i], inputs[i]);
    return c;
}

WearOptions NipUnit::options() {
    WearOptions out;
    out.tier = memory_.words[tier] == 2 ? WearTier::profile : WearTier::facet;
    out.tables = &tables_;
    return out;
}

std::vector<FieldChange> NipUnit::changes(const Inputs& to) const {
    std::vector<FieldChange> out;
    for (std::size_t i = 0; i < to.size(); ++i)
        if (to[i] != memory_.applied[i]) out.push_back({std::string(kInputs[i]), to[i]});
    return out;
}

void NipUnit::show(const WearHistory& history, const Case& at, double speed) {
    auto& n = memory_.numbers;
    n[film_on_lands] = history.film_on_lands.back(), n[excess_ink] = history.excess_ink.back();
    n[film_over_turn] = history.film_over_turn.back(), n[tangential_load] = history.tangential_load.back();
    n[power_per_width] = history.tangential_load.back() * speed;
    n[effective_angle] = history.effective_angle.back(), n[bedded_angle] = history.bedded_angle.back();
    n[line_load] = history.line_load.back(), n[interference] = history.interference.back();
    n[asperity_load] = history.asperity_load.back();
    n[wear_rate] = at.blade.specific_wear * history.asperity_load.back() / tip_thickness(at.blade);
    n[facet_length] = history.facet_length.back(), n[length_lost] = history.length_lost.back();
    n[distance] = history.distance.back();
    memory_.words[regime] = static_cast<int>(history.regime.back());
}

Outcome NipUnit::start(double time) {
    Inputs begin = wanted();
    const bool stands = begin[surface_speed] == 0.0;
    if (stands) begin[surface_speed] = shipped_.setting.surface_speed;  // at which its blade has run in
    const Case at = case_at(begin);
    check_carried(at);
    const WearHistory history = wear(at, {ScheduleStep{}}, options());
    if (!history.convergence.ok()) return {Outcome::Kind::refused, time, why(history.convergence), {}};
    const Memory before = memory_;
    memory_.time = time, memory_.started = true, memory_.applied = begin;
    memory_.still = 0.0, memory_.looked.fill(kNan);
    memory_.wear = history.state, memory_.wear.step = 0;
    memory_.words[status] = static_cast<int>(Standing::running);
    show(history, at, begin[surface_speed]);
    if (stands) {
        const Outcome looked = look_standing();
        if (looked.kind != Outcome::Kind::done) {
            memory_ = before;
            return looked;
        }
    }
    return {Outcome::Kind::done, time, "", {}};
}

Outcome NipUnit::look_standing() {
    Inputs here = wanted();
    here[surface_speed] = kInching;
    if (here != memory_.looked) {
        ScheduleStep from_rest;
        from_rest.stopped = true, from_rest.set = changes(here);
        const Case at = case_at(memory_.applied);
        const WearHistory history = wear(at, {from_rest}, options(), &memory_.wear);
        if (!history.convergence.ok())
            return {Outcome::Kind::refused, memory_.time, "while the roll stands: " + why(history.convergence), {}};
        show(history, at, 0.0);
        memory_.looked = here;
    }
    memory_.words[status] = static_cast<int>(Standing::standing);
    return {Outcome::Kind::done, memory_.time, "", {}};
}

Outcome NipUnit::step(double at, double duration, bool may_end_early) {
    using Kind = Outcome::Kind;
    if (memory_.words[status] == static_cast<int>(Standing::used_up))
        return {Kind::refused, memory_.time, "the thin tip is used up", {}};
    const Inputs to = wanted();
    if (to[surface_speed] == 0.0) {
        Outcome out = look_standing();
        if (out.kind == Kind::done) memory_.still += duration, out.time = memory_.time = at + duration;
        return out;
    }
    ScheduleStep moving;
    moving.duration = duration;
    Schedule schedule;
    if (memory_.words[status] == static_cast<int>(Standing::standing)) {
        ScheduleStep stop;
        stop.stopped = true, stop.duration = memory_.still, stop.set = changes(to);
        schedule = {stop, moving};
    } else {
        moving.set = changes(to);
        schedule = {moving};
    }
    const WearHistory history = wear(case_at(memory_.applied), schedule, options(), &memory_.wear);
    Outcome out{Kind::done, at + duration, "", {}};
    for (const WearHistoryEvent& event : history.events) out.events.push_back(sentence(event));
    if (!history.convergence.ok()) return {Kind::refused, memory_.time, why(history.convergence), out.events};
    const bool whole = history.state.step == schedule.size();
    if (!whole) {
        out.kind = Kind::ended, out.message = "the thin tip has come down to its step";
        out.time = at + history.state.in_step / to[surface_speed];
        if (!may_end_early)
            return {Kind::refused, memory_.time, out.message + " at " + number_text(out.time, 10) + " s", out.events};
    }
    memory_.wear = history.state, memory_.wear.step = 0;
    memory_.applied = to, memory_.still = 0.0, memory_.looked.fill(kNan), memory_.time = out.time;
    memory_.words[status] = static_cast<int>(whole ? Standing::running : Standing::used_up);
    show(history, case_at(to), to[surface_speed]);
    return out;
}

namespace {

class Writer {
  public:
    void operator()(const double& value) { plain(value); }
    void operator()(const int& value) { plain(static_cast<std::int64_t>(value)); }
    void operator()(const std::size_t& value) { plain(static_cast<std::uint64_t>(value)); }
    void operator()(const bool& value) { plain(static_cast<std::int64_t>(value)); }
    void operator()(const std::vector<double>& values) {
        (*this)(values.size());
        for (const double value : values) plain(value);
    }
    std::vector<std::uint8_t> bytes;

  private:
    template <class T>
    void plain(T value) {
        const std::size_t at = bytes.size();
        bytes.resize(at + sizeof(T));
        std::memcpy(bytes.data() + at, &value, sizeof(T));
    }
};

class Reader {
  public:
    Reader(const std::uint8_t* bytes, std::size_t size) : bytes_(bytes), left_(size) {}
    void operator()(double& value) { value = plain<double>(); }
    void operator()(int& value) { value = static_cast<int>(plain<std::int64_t>()); }
    void operator()(std::size_t& value) { value = static_cast<std::size_t>(plain<std::uint64_t>()); }
    void operator()(bool& value) { value = plain<std::int64_t>() != 0; }
    void operator()(std::vector<double>& values) {
        std::size_t size = 0;
        (*this)(size);
        if (size > left_ / sizeof(double)) sound_ = false, size = 0;
        values.resize(size);
        for (double& value : values) value = plain<double>();
    }
    [[nodiscard]] bool whole() const noexcept { return sound_ && left_ == 0; }

  private:
    template <class T>
    T plain() {
        T value{};
        if (left_ < sizeof(T)) return sound_ = false, value;
        std::memcpy(&value, bytes_, sizeof(T));
        bytes_ += sizeof(T), left_ -= sizeof(T);
        return value;
    }
    const std::uint8_t* bytes_;
    std::size_t left_;
    bool sound_ = true;
};

/// Every member once, for both ways.
template <class Archive, class Kept>
void go_through(Archive& a, Kept& m) {
    a(m.time), a(m.fields), a(m.started), a(m.still);
    for (auto& word : m.words) a(word);
    for (auto& value : m.applied) a(value);
    for (auto& value : m.looked) a(value);
    for (auto& value : m.numbers) a(value);
    auto& w = m.wear;
    a(w.step), a(w.step_start), a(w.in_step), a(w.distance), a(w.time), a(w.next_step), a(w.tip);
    a(w.frame_angle), a(w.first_length), a(w.fully_worn), a(w.angle), a(w.u);
    a(w.load), a(w.interference), a(w.load_end), a(w.interference_end), a(w.recess);
    a(w.trouble), a(w.to_and_fro), a(w.begun);
}

}  // namespace

std::vector<std::uint8_t> NipUnit::to_bytes(const Memory& memory) const {
    Writer out;
    for (const char c : mark_) out.bytes.push_back(static_cast<std::uint8_t>(c));
    go_through(out, memory);
    return std::move(out.bytes);
}

bool NipUnit::from_bytes(const std::uint8_t* bytes, std::size_t size, Memory& out) const {
    if (size < mark_.size() || std::memcmp(bytes, mark_.data(), mark_.size()) != 0) return false;
    Reader in(bytes + mark_.size(), size - mark_.size());
    Memory read;
    go_through(in, read);
    if (!in.whole() || read.fields.size() != field_table().size()) return false;
    out = std::move(read);
    return true;
}

}  // namespace libblade::fmu

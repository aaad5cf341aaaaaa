// A case file, event by event, as a flat list of entries. Not installed.
#pragma once

#include <algorithm>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "libblade/parameters.hpp"

namespace libblade::case_reading {

// What a file can ask of time and memory ends here; no case comes near.
inline constexpr std::size_t deepest = 8;  // the deepest field, blade.material.density, has three levels
inline constexpr std::size_t longest_key = 200;
inline constexpr std::size_t most_values = 1000;

inline std::string in_quotes(std::string_view text) { return '"' + std::string(text) + '"'; }

/// Text for a message, kept short; never cut inside a UTF-8 letter.
inline std::string shortened(std::string_view text, std::size_t length = 60) {
    if (text.size() <= length) return std::string(text);
    while (length > 0 && (static_cast<unsigned char>(text[length]) & 0xC0u) == 0x80u) --length;
    return std::string(text.substr(0, length)) + "...";
}

struct Entry {
    enum class Kind { number, text, other } kind = Kind::other;
    std::string path;
    double number = 0.0;
    std::string text;  // the text, the number as written, or the name of a type that no field takes

    /// As a message shows it.
    [[nodiscard]] std::string written() const {
        return kind == Kind::text ? in_quotes(shortened(text)) : shortened(text);
    }
};
inline constexpr std::string_view empty_object = "an empty object";

/// Fields that every item of a list states, for messages: "a section takes length and thickness".
struct ItemNeeds {
    std::string_view first, second, words;
};
inline ItemNeeds needs_of_item(std::string_view list) noexcept {
    if (list == "blade.sections") return {"length", "thickness", "a section takes length and thickness"};
    return {"gap", "pressure", "a point takes gap and pressure"};
}

/// Line and column, both from 1, of a byte position. Columns count letters, as an editor does.
inline std::string place(std::string_view text, std::size_t position) {
    position = std::min(position, text.size());
    std::string_view before = text.substr(0, position == 0 ? 0 : position - 1);
    const auto line = 1 + std::count(before.begin(), before.end(), '\n');
    before.remove_prefix(before.rfind('\n') + 1);  // npos + 1 is 0
    if (before.substr(0, 3) == "\xEF\xBB\xBF") before.remove_prefix(3);
    const auto inside_letter = [](char c) { return (static_cast<unsigned char>(c) & 0xC0u) == 0x80u; };
    const auto column =
        1 + static_cast<std::ptrdiff_t>(before.size()) - std::count_if(before.begin(), before.end(), inside_letter);
    return "line " + std::to_string(line) + ", column " + std::to_string(column);
}

/// Flattens JSON into entries with dotted paths. Event by event, because the ready-made tree keeps only the last of
/// two equal keys; nothing recurses, so depth costs no stack.
class Reader : public nlohmann::json_sax<nlohmann::json> {
  public:
    explicit Reader(std::string_view source) : source_(source) {}
    std::vector<Entry> entries;
    std::vector<Problem> problems;

    bool null() override { return item("null"); }
    bool boolean(bool value) override { return item(value ? "true" : "false"); }
    bool number_integer(number_integer_t value) override {
        return number(static_cast<double>(value), std::to_string(value));
    }
    bool number_unsigned(number_unsigned_t value) override {
        return number(static_cast<double>(value), std::to_string(value));
    }
    bool number_float(number_float_t value, const string_t& written) override { return number(value, written); }
    bool string(string_t& value) override {
        next_item();
        return add({Entry::Kind::text, path(), 0.0, value});
    }
    bool binary(binary_t&) override { return item("binary data"); }

    bool start_object(std::size_t) override {
        if (lists_ > 0) return true;
        started_ = true;
        next_item();
        if (!frames_.empty() && frames_.back().items >= 0)
            if (const int most = most_items(frames_.back().path); frames_.back().items > most) {
                problems.push_back({frames_.back().path, "", "takes at most " + std::to_string(most) + " items"});
                return false;
            }
        if (most_items(path()) > 0) problems.push_back({path(), "", "must be a list [ ] of objects"});
        frames_.push_back({path(), {}, {}, -1});
        if (frames_.size() <= deepest) return true;
        problems.push_back({shortened(frames_.back().path), "", "is nested too deeply"});
        return false;
    }
    bool key(string_t& name) override {
        if (lists_ > 0) return true;
        Frame& frame = frames_.back();
        frame.key = name.empty() ? "\"\"" : shortened(name, longest_key);
        if (name.size() > longest_key) {
            problems.push_back({shortened(path()), "", "is longer than any name of a field"});
            return false;
        }
        if (!frame.seen.insert(name).second) problems.push_back({path(), "", "is given twice"});
        return true;
    }
    bool end_object() override {
        if (lists_ > 0) return true;
        const bool empty = frames_.back().seen.empty();
        frames_.pop_back();
        if (empty && !frames_.empty() && frames_.back().items > 0) {
            const std::string_view words = needs_of_item(frames_.back().path).words;
            problems.push_back({path(), "", "is empty: " + std::string(words)});
            return true;
        }
        if (empty && !frames_.empty()) return other(std::string(empty_object));
        done();
        return true;
    }
    bool start_array(std::size_t) override {
        if (lists_ == 0 && most_items(path()) > 0) {
            frames_.push_back({path(), {}, {}, 0});
            return true;
        }
        next_item();
        if (++lists_ == 1) other("a list");
        return true;
    }
    bool end_array() override {
        if (lists_ == 0) {
            const Frame frame = std::move(frames_.back());
            frames_.pop_back();
            if (frame.items == 0) problems.push_back({frame.path, "", "is an empty list"});
            done();
            return true;
        }
        if (--lists_ == 0) done();
        return true;
    }
    bool parse_error(std::size_t position, const std::string& token,
                     const nlohmann::detail::exception& error) override {
        const bool overflow = error.id == 406;
        std::string where = path();
        if (where.empty() && frames_.empty() && !started_ &&
            source_.find_first_not_of(" \t\r\n") == std::string_view::npos) {
            problems.push_back({"", "", place(source_, position) + ": the file is empty"});
            return false;
        }
        std::string message = place(source_, position) + ": ";
        message += overflow ? "is too large for a number" : "is not valid JSON" + reason(error.what());
        problems.push_back({std::move(where), printable(token), std::move(message)});
        return false;
    }
    [[nodiscard]] bool is_object() const noexcept { return started_; }

  private:
    struct Frame {
        std::string path;
        std::string key;
        std::set<std::string> seen;
        int items = -1;  // of a list, so far
    };

    /// In a list of groups the place is the key.
    void next_item() {
        if (lists_ == 0 && !frames_.empty() && frames_.back().items >= 0)
            frames_.back().key = std::to_string(frames_.back().items++);
    }

    [[nodiscard]] std::string path() const {
        if (frames_.empty()) return {};
        const Frame& frame = frames_.back();
        if (frame.path.empty() || frame.key.empty()) return frame.path + frame.key;
        return frame.path + "." + frame.key;
    }
    /// After a value its key no longer says where the reader is.
    void done() {
        if (!frames_.empty()) frames_.back().key.clear();
    }
    bool add(Entry entry) {
        if (lists_ > 0) return true;
        entries.push_back(std::move(entry));
        done();
        return few();
    }
    bool number(double value, const std::string& written) {
        next_item();
        return add({Entry::Kind::number, path(), value, written});
    }
    bool item(const std::string& type) {
        next_item();
        return other(type);
    }
    bool other(const std::string& type) {
        if (lists_ > 1 || (lists_ == 1 && type != "a list")) return true;
        entries.push_back({Entry::Kind::other, path(), 0.0, type});
        if (lists_ == 0) done();
        return few();
    }
    /// Every key of the file leads to a value, so this bounds all that is kept.
    bool few() {
        if (entries.size() <= most_values) return true;
        problems.push_back(
            {"", "", "the file has more than " + std::to_string(most_values) + " values, which no case has"});
        return false;
    }
    /// The parser's own words after its bookkeeping: "... - unexpected ','; expected string literal".
    static std::string reason(std::string_view text) {
        const std::size_t dash = text.find(" - ");
        if (dash == std::string_view::npos) return {};
        std::string_view words = text.substr(dash + 3);
        const std::size_t last_read = words.find("; last read:");
        if (last_read != std::string_view::npos) {
            const std::size_t next = words.find("'; expected", last_read);
            std::string kept(words.substr(0, last_read));
            if (next != std::string_view::npos) kept += words.substr(next + 1);
            return ": " + kept;
        }
        return ": " + std::string(words);
    }
    static std::string printable(std::string_view token) {
        std::string kept;
        for (const char c : token.substr(0, 60)) kept += c >= ' ' && c <= '~' ? c : '?';
        return kept;
    }

    std::string_view source_;
    std::vector<Frame> frames_;
    int lists_ = 0;
    bool started_ = false;
};

}  // namespace libblade::case_reading

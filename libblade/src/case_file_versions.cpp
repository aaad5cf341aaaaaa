#include "case_file_versions.hpp"

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>
#include <utility>
#include <vector>

#include "libblade/case_file.hpp"
#include "libblade/parameters.hpp"

namespace libblade {
namespace case_versions {
namespace {

struct Rename {
    int until;              // the last version that has the earlier name
    std::string_view then;  // whole paths
    std::string_view now;
};

// Version 0 was never released. It exists so that the way from one version to the next is walked by the tests before
// the first file depends on it; its three names are invented.
constexpr auto renames = std::to_array<Rename>({
    {0, "blade.extension", "blade.free_length"},
    {0, "roll.roughness", "roll.land_roughness"},
    {0, "setting.load", "setting.line_load"},
});

constexpr std::string_view prefix = "libblade-case-";
static_assert(current_case_format.substr(0, prefix.size()) == prefix && current_case_format.back() == '0' + current);

/// What follows a name in a path, empty or "_mm"; not for "_step" in "setting.load_step", which is another field.
bool is_spelling(std::string_view path, std::string_view name, Dimension dimension) noexcept {
    if (path.substr(0, name.size()) != name) return false;
    path.remove_prefix(name.size());
    return path.empty() || (path.front() == '_' && !unit_of_suffix(path.substr(1), dimension).empty());
}

}  // namespace

std::string format_name(int version) { return std::string(prefix) + std::to_string(version); }

Format read_format(std::string_view schema_text) noexcept {
    using Kind = Format::Kind;
    if (schema_text.substr(0, prefix.size()) != prefix) return {};
    const std::string_view digits = schema_text.substr(prefix.size());
    const bool whole = std::all_of(digits.begin(), digits.end(), [](char c) { return c >= '0' && c <= '9'; });
    if (digits.empty() || !whole || (digits.front() == '0' && digits.size() > 1)) return {};
    if (digits.size() > 4) return {Kind::newer, current};
    int version = 0;
    for (const char c : digits) version = 10 * version + (c - '0');
    if (version > current) return {Kind::newer, current};
    return version >= oldest ? Format{Kind::known, version} : Format{};
}

std::string current_path(std::string_view path, int version) {
    for (const Rename& rename : renames)
        if (version <= rename.until && is_spelling(path, rename.then, find_field(rename.now)->dimension))
            return std::string(rename.now) + std::string(path.substr(rename.then.size()));
    return std::string(path);
}

std::string_view earlier_name(std::string_view path, int version) noexcept {
    for (const Rename& rename : renames)
        if (version <= rename.until && is_spelling(path, rename.now, find_field(rename.now)->dimension))
            return rename.then;
    return {};
}

}  // namespace case_versions

namespace {

/// A key, or the text of the key "schema", where it stands in the file.
struct Token {
    std::size_t at, length;  // with its quotes
    std::string group;       // path of the object it stands in
    std::string text;
    bool is_key;

    [[nodiscard]] std::string path() const { return group.empty() ? text : group + "." + text; }
};

/// Every text of a file that read_case takes: it holds objects, texts and numbers, and no lists.
std::vector<Token> texts_of(std::string_view file) {
    std::vector<Token> tokens;
    std::vector<std::string> groups;
    std::string path;
    bool is_key = false;
    for (std::size_t i = 0; i < file.size(); ++i) {
        if (file[i] == '{') {
            groups.push_back(path);
            is_key = true;
        } else if (file[i] == '}') {
            groups.pop_back();
        } else if (file[i] == ',') {
            is_key = true;
        } else if (file[i] == ':') {
            is_key = false;
        } else if (file[i] == '"') {
            std::size_t end = i + 1;
            while (file[end] != '"') end += file[end] == '\\' ? 2 : 1;
            const std::string_view quoted = file.substr(i, end + 1 - i);
            const std::string& group = is_key ? groups.back() : path;
            tokens.push_back({i, quoted.size(), group, nlohmann::json::parse(quoted).get<std::string>(), is_key});
            if (is_key) path = tokens.back().path();
            i = end;
        }
    }
    return tokens;
}

}  // namespace

std::string migrate_case(std::string_view json_text) {
    namespace cv = case_versions;
    (void)read_case(json_text);  // says what is wrong with the file, syntax included
    const std::vector<Token> tokens = texts_of(json_text);
    const auto is_schema = [](const Token& token) { return !token.is_key && token.group == "schema"; };
    const auto schema = std::find_if(tokens.begin(), tokens.end(), is_schema);
    const int version = schema == tokens.end() ? cv::current : cv::read_format(schema->text).version;
    std::string result;
    std::size_t copied = 0;
    for (const Token& token : tokens) {
        std::string now = token.text;
        if (is_schema(token)) now = current_case_format;
        if (token.is_key) {
            const std::string path = cv::current_path(token.path(), version);
            now = token.group.empty() ? path : path.substr(token.group.size() + 1);
        }
        if (now == token.text) continue;  // as it is spelled, escapes included
        result += json_text.substr(copied, token.at - copied);
        result += nlohmann::json(now).dump();
        copied = token.at + token.length;
    }
    return result + std::string(json_text.substr(copied));
}

}  // namespace libblade

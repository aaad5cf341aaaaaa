#include "catch.hpp"

#include <algorithm>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "libblade/case_file.hpp"
#include "libblade/parameters.hpp"
#include "libblade/schema.hpp"

using namespace libblade;

namespace {

const std::string corpus = std::string(LIBBLADE_TEST_REFERENCE) + "/schema_corpus/";
const std::string shipped = std::string(LIBBLADE_TEST_REFERENCE) + "/../../bindings/libblade/schema/";

std::string contents(const std::string& file_name) {
    std::ifstream file(file_name, std::ios::binary);
    REQUIRE(file);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

/// File, verdict and field paths of each line of a manifest "file | verdict | paths | ...".
struct Row {
    std::string file;
    bool valid;
    std::vector<std::string> paths;
};
std::vector<Row> manifest(const std::string& name) {
    std::vector<Row> rows;
    std::istringstream text(contents(corpus + name));
    for (std::string line; std::getline(text, line);) {
        if (line.empty() || line.front() == '#') continue;
        std::istringstream cells(line);
        std::string file, verdict, paths;
        std::getline(cells, file, '|');
        std::getline(cells, verdict, '|');
        std::getline(cells, paths, '|');
        Row row{file.substr(0, file.find(' ')), verdict == " valid ", {}};
        REQUIRE((row.valid || verdict == " invalid "));
        std::istringstream words(paths);
        for (std::string path; words >> path;) row.paths.push_back(path == "-" ? "" : path);
        REQUIRE(row.valid == row.paths.empty());
        rows.push_back(row);
    }
    return rows;
}

void check_reader(const Row& row) {
    INFO(row.file);
    std::vector<Problem> problems;
    try {
        (void)read_case(contents(corpus + row.file));
    } catch (const InvalidInput& error) {
        problems = error.problems();
    }
    CHECK(problems.empty() == row.valid);
    for (const std::string& path : row.paths) {
        INFO("must name " << path);
        CHECK(std::any_of(problems.begin(), problems.end(), [&](const Problem& p) { return p.path == path; }));
    }
}

}  // namespace

TEST_CASE("the shipped schema and field list are the ones of this field table", "[schema]") {
    // After a change of the field table: libblade schema > case-1.schema.json, libblade schema --fields > fields.md
    CHECK(case_schema() == contents(shipped + "case-1.schema.json"));
    CHECK(fields_markdown() == contents(shipped + "fields.md"));
}

TEST_CASE("the reader decides the corpus as its manifests say", "[schema]") {
    const auto both = manifest("manifest.txt");
    CHECK(both.size() >= 60);
    for (const Row& row : both) check_reader(row);
    for (const Row& row : manifest("beyond_schema.txt")) check_reader(row);
}

TEST_CASE("no field's name begins another's, or the schema could not tell them apart", "[schema]") {
    for (const Field& a : field_table())
        for (const Field& b : field_table()) {
            INFO(a.path << " " << b.path);
            // "screen_angle" stands in none of the rules that go by the beginning of a name.
            if (a.path == "roll.engraving.screen" && b.path == "roll.engraving.screen_angle") continue;
            CHECK(b.path.substr(0, a.path.size() + 1) != std::string(a.path) + "_");
        }
    CHECK(case_schema().find("^(screen") != std::string::npos);  // of screen_angle alone
    CHECK(case_schema().find("^(screen)") == std::string::npos);
}

TEST_CASE("every field has its line in the list and its place in the schema", "[schema]") {
    const std::string schema = case_schema(), list = fields_markdown();
    for (const Field& field : field_table()) {
        INFO(field.path);
        if (list_item(field.path).index > 0) continue;  // as the first
        CHECK(list.find("`" + std::string(field.path) + "`") != std::string::npos);
        CHECK(schema.find("\"" + std::string(field.path.substr(field.path.rfind('.') + 1)) + "\": {") !=
              std::string::npos);
    }
}

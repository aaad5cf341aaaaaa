// Prints libFuzzer's dictionary: names of fields, choices, units, and what JSON is made of. One quoted word a line.
#include <cstdio>
#include <set>
#include <string>

#include "libblade/case_file.hpp"
#include "libblade/parameters.hpp"

int main() {
    using namespace libblade;
    std::set<std::string> words{"{\"",
                                "\":{\"",
                                "\":[{\"",
                                "},{\"",
                                "\":\"",
                                "\",\"",
                                "}",
                                "]",
                                "null",
                                "true",
                                "1e-400",
                                "1e400",
                                "-0.0",
                                "_rad",
                                "_mm",
                                "\\u0000",
                                "\\ud800",
                                "\xEF\xBB\xBF",
                                "\xC2\xB5",
                                "\xE2\x88\x92",
                                "\"schema\":\"libblade-case-0\",",
                                "name",
                                "note",
                                "schema",
                                std::string(current_case_format)};
    for (const Field& field : field_table()) {
        const std::string path(field.path);
        for (std::size_t from = 0, to = 0; to != std::string::npos; from = to + 1) {
            to = path.find('.', from);
            words.insert(path.substr(from, to == std::string::npos ? to : to - from));
        }
        words.insert(path);
        if (field.kind != FieldKind::number)
            for (const std::string_view choice : choices_of(field)) words.insert(std::string(choice));
        for (const std::string_view unit : units_of(field.dimension)) words.insert(std::string(unit));
    }
    for (const std::string& word : words) {
        std::printf("\"");
        for (const char c : word) {
            const auto byte = static_cast<unsigned char>(c);
            if (byte < 0x20 || byte > 0x7e || c == '"' || c == '\\')
                std::printf("\\x%02X", byte);
            else
                std::printf("%c", c);
        }
        std::printf("\"\n");
    }
}

// What a page calls: one text in, one text out.
#include <cstdlib>
#include <cstring>
#include <string>

#include "libblade/lesson.hpp"

extern "C" {

/// Answer of a request, to be released; both UTF-8 and ended by 0.
char* libblade_answer(const char* request) {
    static libblade::Lesson lesson;
    const std::string text = lesson.answer(request);
    char* out = static_cast<char*>(std::malloc(text.size() + 1));
    if (out != nullptr) std::memcpy(out, text.c_str(), text.size() + 1);
    return out;
}

void libblade_release(char* answer) { std::free(answer); }

}  // extern "C"

// A shared library of somebody's with libblade inside.
#include <libblade/case_file.hpp>
#include <libblade/nip.hpp>

extern "C" __attribute__((visibility("default"))) double film_on_lands(const char* text) {
    return libblade::solve(libblade::read_case(text)).film_on_lands;
}

// Uses the installed library as a stranger would: one case, one operating point.
#include <cstdio>

#include <libblade/nip.hpp>
#include <libblade/version.hpp>

int main() {
    libblade::Case nip;
    nip.setting.set_angle = 0.55;
    const libblade::OperatingPoint point = libblade::solve(nip);
    std::printf("libblade %s: %s, film on lands %.3f um\n", libblade::version.data(),
                libblade::to_string(point.convergence.status).data(), point.film_on_lands * 1e6);
    return point.convergence.ok() && point.film_on_lands > 0.0 ? 0 : 1;
}

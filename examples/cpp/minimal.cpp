#include <cstdio>
#include <libblade/nip.hpp>

int main() {
    libblade::Case nip;                            // a usual chambered blade with water ink, SI units
    nip.setting.set_angle = 0.56;                  // rad, 32 deg
    nip.setting.load = libblade::LineLoad{110.0};  // N/m
    const libblade::OperatingPoint point = libblade::solve(nip);
    std::printf("%.2f um of ink passes on the lands\n", point.film_on_lands * 1e6);
    return point.convergence.ok() ? 0 : 1;
}

// Builds film inputs for the tests and reads their reference tables.
#pragma once

#include <cmath>
#include <cstddef>
#include <fstream>
#include <map>
#include <random>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "libblade/film.hpp"

#ifndef LIBBLADE_TEST_REFERENCE
#define LIBBLADE_TEST_REFERENCE "tests/reference"
#endif

struct FilmProblem {
    std::vector<double> x, gap, viscosity, shear_viscosity, flow_factor;
    libblade::FilmInput rest;  // scalars only

    static FilmProblem uniform(std::vector<double> x, std::vector<double> gap, double eta, double speed) {
        FilmProblem f;
        f.viscosity.assign(x.size() - 1, eta);
        f.shear_viscosity = f.viscosity;
        f.flow_factor.assign(x.size() - 1, 1.0);
        f.x = std::move(x);
        f.gap = std::move(gap);
        f.rest.speed = speed;
        return f;
    }
    template <class Gap>
    static FilmProblem sampled(double from, double to, std::size_t n, Gap gap, double eta, double speed) {
        std::vector<double> x(n), h(n);
        for (std::size_t i = 0; i < n; ++i) {
            x[i] = from + (to - from) * static_cast<double>(i) / static_cast<double>(n - 1);
            h[i] = gap(x[i]);
        }
        return uniform(x, h, eta, speed);
    }
    [[nodiscard]] libblade::FilmInput input() const {
        libblade::FilmInput in = rest;
        in.x = x;
        in.gap = gap;
        in.pressure_viscosity = viscosity;
        in.shear_viscosity = shear_viscosity;
        in.flow_factor = flow_factor;
        return in;
    }
};

/// Fixed-seed numbers in [0, 1) that are the same on every platform.
class Dice {
  public:
    explicit Dice(unsigned seed) : g_(seed) {}
    double operator()() { return static_cast<double>(g_() >> 11) * 0x1p-53; }

  private:
    std::mt19937_64 g_;
};

inline std::vector<std::vector<std::string>> read_table(const std::string& file) {
    std::ifstream in(std::string(LIBBLADE_TEST_REFERENCE) + "/" + file);
    if (!in) throw std::runtime_error("no reference table " + file);
    std::vector<std::vector<std::string>> rows;
    std::string line;
    std::getline(in, line);  // header
    while (std::getline(in, line)) {
        std::vector<std::string> cells;
        std::istringstream s(line);
        for (std::string cell; std::getline(s, cell, ',');) cells.push_back(cell);
        rows.push_back(cells);
    }
    return rows;
}

/// A table of case, quantity, value.
class Reference {
  public:
    explicit Reference(const std::string& file) {
        for (const auto& row : read_table(file)) values_[row.at(0) + "|" + row.at(1)] = std::stod(row.at(2));
    }
    [[nodiscard]] double operator()(const std::string& id, const std::string& quantity) const {
        return values_.at(id + "|" + quantity);
    }

  private:
    std::map<std::string, double> values_;
};

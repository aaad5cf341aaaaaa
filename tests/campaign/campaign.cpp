// Random cases by the million: what does a case out of nowhere come to? Counts per population, and what is wrong with any.
//
//   campaign [cases=1000000] [seed=1] [threads=2] [pool=300] [least=0.999] [defects=0]   counts them
//            [record=FILE]   counts as JSON after every chunk; a file that is there is gone on with
//            [table=FILE]    the same as Markdown
//            [log=FILE]      a line for every case that failed or is wrong
//   campaign show=usual|hard index=N [seed=1] [pool=300]   one case as JSON, and what it comes to
//
// Half of the cases are of each population. Status 0: no more than the known `defects`, and of the usual population's cases that are neither refused nor
// classified at least the share `least` converges.
#include <atomic>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <iostream>
#include <mutex>
#include <nlohmann/json.hpp>
#include <thread>

#include "draw.hpp"
#include "judge.hpp"
#include "libblade/case_file.hpp"

namespace {

using namespace campaign;
using Json = nlohmann::ordered_json;

constexpr std::uint64_t kChunk = 1000;

struct Settings {
    std::uint64_t cases = 1000000, seed = 1, index = 0;
    std::size_t pool = 300;
    int threads = 2;
    double least = 0.999;
    std::uint64_t defects = 0;
    std::string record, table, log, show;
};

Settings settings_of(int argc, char** argv) {
    Settings s;
    for (int i = 1; i < argc; ++i) {
        const std::string word = argv[i];
        const auto cut = word.find('=');
        const std::string key = word.substr(0, cut), value = cut == std::string::npos ? "" : word.substr(cut + 1);
        const auto number = [&] { return std::strtoull(value.c_str(), nullptr, 10); };
        if (key == "cases") {
            s.cases = number();
        } else if (key == "seed") {
            s.seed = number();
        } else if (key == "index") {
            s.index = number();
        } else if (key == "pool") {
            s.pool = number();
        } else if (key == "threads") {
            s.threads = static_cast<int>(number());
        } else if (key == "least") {
            s.least = std::strtod(value.c_str(), nullptr);
        } else if (key == "defects") {
            s.defects = number();
        } else if (std::string* file = key == "record"  ? &s.record
                                       : key == "table" ? &s.table
                                       : key == "log"   ? &s.log
                                       : key == "show"  ? &s.show
                                                        : nullptr) {
            *file = value;
        } else {
            throw std::runtime_error("unknown argument " + word);
        }
    }
    return s;
}

struct Tally {
    Counts counts;
    std::uint64_t done = 0;
    double seconds = 0.0;  ///< of all threads
};

/// Cases [first, last) of a population, in threads.
void run(const Draw& draw, FlowTables& tables, const Settings& s, std::uint64_t first, std::uint64_t last, Tally& tally,
         std::ostream& log, const char* name) {
    std::atomic<std::uint64_t> next{first};
    std::mutex mutex;
    std::vector<std::thread> workers;
    for (int t = 0; t < s.threads; ++t)
        workers.emplace_back([&] {
            Judge judge(tables);
            const double start = worked();
            for (std::uint64_t i = next++; i < last; i = next++) {
                const std::string wrong = judge.judge(draw.at(i), i);
                if (wrong.empty()) continue;
                const std::lock_guard lock(mutex);
                log << name << ' ' << i << ' ' << wrong << '\n';
            }
            const std::lock_guard lock(mutex);
            tally.seconds += worked() - start;
            for (const auto& [key, count] : judge.counts) tally.counts[key] += count;
        });
    for (auto& worker : workers) worker.join();
    tally.done = last;
}

std::uint64_t sum(const Counts& counts, const std::string& start) {
    std::uint64_t total = 0;
    for (const auto& [key, count] : counts)
        if (key.compare(0, start.size(), start) == 0) total += count;
    return total;
}

/// Converged of those that are neither refused nor classified.
double share(const Counts& counts) {
    const double converged = static_cast<double>(sum(counts, "converged"));
    const double failed = static_cast<double>(sum(counts, "failed") + sum(counts, "thrown"));
    return converged + failed > 0.0 ? converged / (converged + failed) : 0.0;
}

Json as_json(const Settings& s, const std::array<Tally, 2>& tallies) {
    char date[32] = "";
    const std::time_t now = std::time(nullptr);
    std::strftime(date, sizeof date, "%Y-%m-%d", std::gmtime(&now));
    Json out{{"date", date}, {"seed", s.seed}, {"pool", s.pool}, {"build", CAMPAIGN_BUILD}};
    for (const Population p : {Population::usual, Population::hard}) {
        const Tally& tally = tallies[static_cast<std::size_t>(p)];
        Json part{{"done", tally.done}, {"seconds", tally.seconds}, {"share_converged", share(tally.counts)}};
        part["counts"] = tally.counts;
        out[p == Population::usual ? "usual" : "hard"] = part;
    }
    return out;
}

/// Both populations side by side, one row for every outcome.
void write_table(std::ostream& out, const Settings& s, const std::array<Tally, 2>& tallies) {
    out << "| outcome | usual ranges | hard ranges |\n| --- | ---: | ---: |\n";
    const auto row = [&](const std::string& name, const std::string& start) {
        out << "| " << name << " | " << sum(tallies[0].counts, start) << " | " << sum(tallies[1].counts, start)
            << " |\n";
    };
    std::map<std::string, bool> keys;
    for (const Tally& tally : tallies)
        for (const auto& [key, count] : tally.counts) keys[key] = true;
    const auto each = [&](const std::string& start) {
        for (const auto& [key, known] : keys)
            if (key.compare(0, start.size(), start) == 0) row(key, key);
    };
    row("drawn", "drawn"), row("**refused**", "refused"), row("**classified**", "classified"), each("classified: ");
    row("**converged**", "converged"), row("**failed**", "failed"), each("failed: ");
    char shares[96];
    std::snprintf(shares, sizeof shares, "| converged of converged and failed | %.2f %% | %.2f %% |\n",
                  100.0 * share(tallies[0].counts), 100.0 * share(tallies[1].counts));
    out << shares;
    row("**defects**", "defect"), each("defect: "), row("slow: more than two seconds", "slow"),
        row("re-evaluated", "re-evaluated"), each("not re-evaluated: ");
    row("Reynolds' equation asked for in every cell", "flow asked");
    out << "\nSeed " << s.seed << ", pool " << s.pool << ", " << CAMPAIGN_BUILD << "\n";
}

int show(const Settings& s) {
    const Draw draw(s.show == "hard" ? Population::hard : Population::usual, s.seed, s.pool);
    FlowTables tables(2 * s.pool + 16);
    const Case c = draw.at(s.index);
    std::cout << write_case(c) << '\n';
    Judge judge(tables);
    std::cout << judge.judge(c, s.index) << '\n';
    for (const auto& [key, count] : judge.counts) std::cout << key << ' ' << count << '\n';
    return 0;
}

int campaign_of(const Settings& s) {
    std::array<Tally, 2> tallies;
    if (std::ifstream before(s.record); before) {
        const Json record = Json::parse(before);
        if (record.at("seed") != s.seed || record.at("pool") != s.pool)
            throw std::runtime_error(s.record + " is of another seed or pool");
        for (std::size_t k = 0; k < 2; ++k) {
            const Json& part = record.at(k == 0 ? "usual" : "hard");
            tallies[k] = {part.at("counts").get<Counts>(), part.at("done"), part.at("seconds")};
        }
    }
    std::ofstream log(s.log.empty() ? "/dev/null" : s.log, std::ios::app);
    std::printf("seed %llu, pool %zu, %s\n", static_cast<unsigned long long>(s.seed), s.pool, CAMPAIGN_BUILD);
    const std::array draws{Draw(Population::usual, s.seed, s.pool), Draw(Population::hard, s.seed, s.pool)};
    FlowTables tables(4 * s.pool + 16);
    for (const Draw& draw : draws) draw.make_tables(tables, s.threads);
    const std::uint64_t wanted = s.cases / 2;
    while (tallies[1].done < wanted)
        for (std::size_t k = 0; k < 2; ++k) {
            Tally& tally = tallies[k];
            if (tally.done >= wanted) continue;
            const char* name = k == 0 ? "usual" : "hard";
            run(draws[k], tables, s, tally.done, std::min(wanted, tally.done + kChunk), tally, log, name);
            log.flush();
            if (!s.record.empty()) std::ofstream(s.record) << as_json(s, tallies).dump(2) << '\n';
            const auto of = [&](const char* start) {
                return static_cast<unsigned long long>(sum(tally.counts, start));
            };
            std::printf(
                "%s %llu: %llu converged, %llu classified, %llu refused, %llu failed, %llu defects, %.2f ms each\n",
                name, static_cast<unsigned long long>(tally.done), of("converged"), of("classified"), of("refused"),
                of("failed"), of("defect"), 1e3 * tally.seconds / static_cast<double>(tally.done));
            std::fflush(stdout);
        }
    if (!s.table.empty()) {
        std::ofstream out(s.table);
        write_table(out, s, tallies);
    }
    write_table(std::cout, s, tallies);
    const bool good = sum(tallies[0].counts, "defect") + sum(tallies[1].counts, "defect") <= s.defects &&
                      share(tallies[0].counts) >= s.least;
    return good ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
    try {
        const Settings s = settings_of(argc, argv);
        return s.show.empty() ? campaign_of(s) : show(s);
    } catch (const std::exception& error) {
        std::cerr << error.what() << '\n';
        return 2;
    }
}

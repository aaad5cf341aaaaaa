#include "libblade/nip_tables.hpp"

#include <algorithm>
#include <list>
#include <mutex>

namespace libblade {

namespace {

/// Whoever asks first makes the table; others who want the same wait for it, those who want another one do not.
template <class Key, class Table>
class Shelf {
  public:
    template <class Make>
    std::shared_ptr<const Table> get(const Key& key, std::size_t most, Make&& make) {
        const std::shared_ptr<Entry> entry = find(key, most);
        std::call_once(entry->once, [&] { entry->table = std::make_shared<const Table>(make()); });
        return entry->table;
    }

  private:
    struct Entry {
        Key key;
        std::once_flag once;
        std::shared_ptr<const Table> table;
        explicit Entry(const Key& k) : key(k) {}
    };
    std::shared_ptr<Entry> find(const Key& key, std::size_t most) {
        const std::lock_guard lock(mutex_);
        const auto here = std::find_if(entries_.begin(), entries_.end(), [&](const auto& e) { return e->key == key; });
        if (here != entries_.end()) {
            entries_.splice(entries_.begin(), entries_, here);
        } else {
            entries_.push_front(std::make_shared<Entry>(key));
            if (entries_.size() > most) entries_.pop_back();
        }
        return entries_.front();
    }
    std::mutex mutex_;
    std::list<std::shared_ptr<Entry>> entries_;  // latest first
};

}  // namespace

struct FlowTables::Shelves {
    explicit Shelves(std::size_t n) : most(std::max<std::size_t>(n, 1)) {}
    std::size_t most;
    Shelf<Engraving, CellFlowTable> cells;
    Shelf<Rheology, InkFlowTable> inks;
};

FlowTables::FlowTables(std::size_t most) : shelves_(std::make_unique<Shelves>(most)) {}
FlowTables::~FlowTables() = default;

std::shared_ptr<const CellFlowTable> FlowTables::cells(const Engraving& engraving) {
    if (engraving.pattern == Pattern::smooth || engraving.pressure_flow_factor) return nullptr;
    // What does not shape the cells does not ask for a table of its own.
    Engraving key = engraving;
    key.fill = 1.0;
    key.land_fraction.reset();
    constexpr int resolution = 48;  // within 0.3 % of twice as many
    return shelves_->cells.get(key, shelves_->most, [&] {
        CellFlowOptions options;
        options.resolution = resolution;
        return make_cell_flow_table(key, 1e-8, 1e-3, 33, options);
    });
}

std::shared_ptr<const InkFlowTable> FlowTables::ink(const Rheology& law) {
    if (std::holds_alternative<Newtonian>(law)) return nullptr;
    return shelves_->inks.get(law, shelves_->most, [&] { return make_ink_flow_table(law); });
}

}  // namespace libblade

// The nip in a hot loop: made once, asked millions of times by a larger model.
//
// Fields that move and outputs that are read are named once; each solve takes and gives plain numbers in the caller's
// memory. After set-up it takes nothing from the heap, locks nothing, throws nothing and always ends (iterations are bounded).
// A Solver never changes and may be used by any number of threads at once, each with a Workspace of its own.
#pragma once

#include <memory>
#include <span>
#include <string>
#include <vector>

#include "libblade/nip.hpp"
#include "libblade/nip_tables.hpp"

namespace libblade {

/// Memory for one thread's solves, made by the Solver that uses it.
class Workspace {
  public:
    Workspace(Workspace&&) noexcept;
    Workspace& operator=(Workspace&&) noexcept;
    ~Workspace();
    /// All of the latest solve: every number that its outputs called for (the others are NaN), regime, branch, flags, convergence.
    [[nodiscard]] const OperatingPoint& point() const noexcept;

  private:
    friend class Solver;
    struct Parts;
    explicit Workspace(std::unique_ptr<Parts> parts) noexcept;
    std::unique_ptr<Parts> parts_;
};

class Solver {
  public:
    /// `fields`: paths of the field table, SI, in the order of the inputs. `outputs`: members of the point that will be read
    /// (find_output in nip_outputs.hpp gives them by name); solves that none of them needs are left out.
    /// Of the options, start, mesh, constant_friction and tables count.
    /// Throws InvalidInput: a base case with problems, a field that is no number of it or that another one takes away, one that
    /// would change a table (cells of the engraving, the law of an ink that is not Newtonian, a bearing curve) or an actuator's
    /// reading (load_of turns that into a load or an interference).
    Solver(const Case& base, std::span<const std::string> fields, std::span<double OperatingPoint::*const> outputs,
           const NipOptions& options = {});
    ~Solver();
    Solver(Solver&&) noexcept;
    Solver& operator=(Solver&&) noexcept;

    [[nodiscard]] std::size_t inputs() const noexcept;
    [[nodiscard]] std::size_t outputs() const noexcept;
    [[nodiscard]] Workspace workspace() const;

    /// One operating point. `in` (inputs(),) SI, `out` (outputs(),) SI: NaN unless the status is converged; out_of_range for
    /// numbers outside their hard ranges, cases that contradict themselves, sizes that do not agree and the workspace of another solver.
    /// `near`: NipOptions::near; none: from scratch, to the same bits as any other solve from scratch. The free solve() tries a
    /// search that is lost again, from a setting beside it or in finer cells, which takes from the heap: here the status says so.
    [[nodiscard]] Status solve(std::span<const double> in, std::span<double> out, Workspace& workspace,
                               WarmStart* near = nullptr) const noexcept;

    /// Whether these fields can move in a hot loop; the constructor says why not.
    [[nodiscard]] static bool takes(const Case& base, std::span<const std::string> fields);

  private:
    struct Parts;
    std::unique_ptr<const Parts> parts_;
};

/// The options with the solves that these outputs do not need left out.
[[nodiscard]] NipOptions needed_by(std::span<double OperatingPoint::*const> outputs, NipOptions options);

}  // namespace libblade

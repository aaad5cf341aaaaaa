/* libblade from C (C99), and from every language that calls C.
 *
 * Numbers are SI throughout; field paths and outputs bear the names of the field table. Objects are opaque handles: made by
 * ..._new, given back by ..._free (NULL is taken and does nothing). Each call returns a blade_status; a handle keeps the words
 * of its latest error until its next call. Nothing here prints, exits or throws. Texts are UTF-8.
 *
 * Threads: a solver, once set up, may be used by any number of threads at once, each with a workspace of its own. Any other
 * handle belongs to one thread at a time.
 *
 * Sharp blades, running rolls: results are no substitute for guards, gloves and licensed practice. */
#ifndef LIBBLADE_C_INTERFACE_H
#define LIBBLADE_C_INTERFACE_H

#include <stddef.h>

#if defined(_WIN32)
#if defined(LIBBLADE_C_BUILD)
#define BLADE_API __declspec(dllexport)
#elif defined(LIBBLADE_C_SHARED)
#define BLADE_API __declspec(dllimport)
#else
#define BLADE_API
#endif
#elif defined(LIBBLADE_C_BUILD)
#define BLADE_API __attribute__((visibility("default")))
#else
#define BLADE_API
#endif

#ifdef __cplusplus
extern "C" {
#endif

/* How a call ended. Those of an operating point are those of the C++ enum Status. */
typedef enum blade_status {
    BLADE_NOT_RUN = 0,
    BLADE_CONVERGED = 1, /* also: the call did what it was asked to */
    BLADE_MAX_ITERATIONS = 2,
    BLADE_STAGNATED = 3,
    BLADE_SINGULAR_JACOBIAN = 4,
    BLADE_NON_FINITE = 5,
    BLADE_STEP_TOO_SMALL = 6,
    BLADE_LYING_FLAT = 7,
    BLADE_UNSTABLE = 8,
    BLADE_LIFTED_OFF = 9,
    BLADE_OUT_OF_RANGE = 10,
    BLADE_BAD_ARGUMENT = 100, /* NULL where something is needed, or sizes that do not agree */
    BLADE_BAD_INPUT = 101,    /* the handle's error names field, value and range */
    BLADE_NO_MEMORY = 102,
    BLADE_TOO_SMALL = 103     /* a buffer; the size that is needed was written */
} blade_status;

typedef struct blade_case blade_case;
typedef struct blade_solver blade_solver;
typedef struct blade_workspace blade_workspace;

BLADE_API const char* blade_version(void);
/* One plain sentence; "" for BLADE_CONVERGED. */
BLADE_API const char* blade_status_text(int status);

/* The field table, one row a number or choice. Texts stay as long as the library. */
typedef struct blade_field {
    const char* path;           /* "blade.thickness" */
    const char* meaning;
    const char* unit;           /* SI: "m"; "1" for plain numbers */
    int is_number;              /* 0: a choice or a text */
    double hard_min, hard_max;  /* outside is refused */
    double usual_min, usual_max;
} blade_field;
BLADE_API size_t blade_field_count(void);
BLADE_API blade_status blade_field_at(size_t index, blade_field* field);

typedef struct blade_output {
    const char* name; /* "film_on_lands" */
    const char* unit; /* SI */
    const char* meaning;
} blade_output;
BLADE_API size_t blade_output_count(void);
BLADE_API blade_status blade_output_at(size_t index, blade_output* output);

/* A case: blade, tip, roll, ink and setting. New ones hold the defaults. A call that fails leaves the case as it was. */
BLADE_API blade_case* blade_case_new(void); /* NULL: no memory */
BLADE_API void blade_case_free(blade_case* handle);
BLADE_API const char* blade_case_error(const blade_case* handle); /* "" when the latest call did well */
/* JSON text of a case file. */
BLADE_API blade_status blade_case_read(blade_case* handle, const char* text, size_t size);
/* A file's worth of JSON, without a closing zero. BLADE_TOO_SMALL: `needed` characters are to be had; text may then be NULL. */
BLADE_API blade_status blade_case_write(blade_case* handle, char* text, size_t size, size_t* needed);
BLADE_API blade_status blade_case_set_number(blade_case* handle, const char* path, double si_value);
/* With a unit, "30 deg", "0.15 mm"; or a choice, "floating". */
BLADE_API blade_status blade_case_set_text(blade_case* handle, const char* path, const char* text);
/* NaN where the case has no such number. */
BLADE_API blade_status blade_case_number(blade_case* handle, const char* path, double* si_value);

/* A solver of one case whose named fields move and whose named outputs are read; start: 0 resting, 1 riding.
 * A new one has to be set up; setting up again forgets the first, and its workspaces must not be used any more. */
BLADE_API blade_solver* blade_solver_new(void);
BLADE_API void blade_solver_free(blade_solver* handle);
BLADE_API const char* blade_solver_error(const blade_solver* handle);
BLADE_API blade_status blade_solver_set_up(blade_solver* handle, const blade_case* of, size_t fields,
                                           const char* const* field_paths, size_t outputs,
                                           const char* const* output_names, int start);

/* Memory of one thread. Not to be used after its solver is gone. NULL: no memory, or the solver is not set up. */
BLADE_API blade_workspace* blade_workspace_new(const blade_solver* of);
BLADE_API void blade_workspace_free(blade_workspace* handle);
/* Why the latest solve did not converge; "" when it did. */
BLADE_API const char* blade_workspace_error(const blade_workspace* handle);

/* One operating point: `in` as many numbers as there are fields, `out` as many as there are outputs, NaN unless converged.
 * Takes no memory, no lock. warm: 0 from scratch; 1 from where the workspace's latest warm solve stood. */
BLADE_API blade_status blade_solve(const blade_solver* solver, blade_workspace* workspace, const double* in, double* out,
                                   int warm);

/* Many points, one after the other. Strides count numbers, from one point to the next and from one field or output to the next;
 * they may be negative, those of `in` zero. `statuses`: one for each point, or NULL. Returns BLADE_CONVERGED when all points
 * are. */
typedef struct blade_many {
    size_t points;
    const double* in;
    ptrdiff_t in_point_stride, in_field_stride;
    double* out;
    ptrdiff_t out_point_stride, out_output_stride;
    int* statuses;
    int warm;
} blade_many;
BLADE_API blade_status blade_solve_many(const blade_solver* solver, blade_workspace* workspace, const blade_many* many);

/* Where the blade stands (WarmStart): plain bytes, to be kept and put back with a time step that is undone. */
BLADE_API size_t blade_stand_size(void);
BLADE_API blade_status blade_workspace_keep(const blade_workspace* handle, void* bytes, size_t size);
BLADE_API blade_status blade_workspace_put_back(blade_workspace* handle, const void* bytes, size_t size);

/* Laws that left their range in the latest solve. Texts stay as long as the library. */
typedef struct blade_flag {
    const char* name;
    const char* message;
    double value, limit;
    int why; /* status of a further solve that has no solution, else BLADE_CONVERGED */
} blade_flag;
BLADE_API size_t blade_workspace_flag_count(const blade_workspace* handle);
BLADE_API blade_status blade_workspace_flag(const blade_workspace* handle, size_t index, blade_flag* flag);

#ifdef __cplusplus
}
#endif

#endif

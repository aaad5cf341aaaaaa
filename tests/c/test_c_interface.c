/* The C interface as a C99 program uses it: handles, errors, one point and many, strides, warm starts put back. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "libblade/c_interface.h"

static int failures = 0;
#define CHECK(condition)                                              \
    do {                                                              \
        if (!(condition)) {                                           \
            printf("%s:%d: %s\n", __FILE__, __LINE__, #condition);    \
            ++failures;                                               \
        }                                                             \
    } while (0)

static const char* const kFields[] = {"setting.set_angle", "setting.line_load", "setting.surface_speed"};
static const char* const kOutputs[] = {"film_on_lands", "tangential_load"};

static void the_tables_name_every_field(void) {
    size_t i;
    int angle = 0;
    for (i = 0; i < blade_field_count(); ++i) {
        blade_field f;
        CHECK(blade_field_at(i, &f) == BLADE_CONVERGED);
        CHECK(strlen(f.path) > 0 && strlen(f.unit) > 0 && f.hard_min <= f.hard_max);
        if (strcmp(f.path, "setting.set_angle") == 0) angle = strcmp(f.unit, "rad") == 0 && f.is_number == 1;
    }
    CHECK(angle);
    CHECK(blade_field_at(blade_field_count(), NULL) == BLADE_BAD_ARGUMENT);
    CHECK(blade_output_count() > 30);
    for (i = 0; i < blade_output_count(); ++i) {
        blade_output o;
        CHECK(blade_output_at(i, &o) == BLADE_CONVERGED);
        CHECK(strlen(o.name) > 0 && strlen(o.unit) > 0 && strlen(o.meaning) > 0);
    }
    CHECK(strlen(blade_version()) >= 5);
    CHECK(strcmp(blade_status_text(BLADE_CONVERGED), "") == 0);
    CHECK(strstr(blade_status_text(BLADE_LYING_FLAT), "flat") != NULL);
    CHECK(strlen(blade_status_text(-7)) > 0 && strlen(blade_status_text(55)) > 0);
}

static void a_case_says_what_is_wrong(void) {
    static const char bad[] = "{\"blade\": {\"thickness\": -1}}";
    blade_case* c = blade_case_new();
    double value = 0.0;
    size_t needed = 0;
    char* text;
    CHECK(c != NULL);
    CHECK(blade_case_set_text(c, "setting.set_angle", "30 deg") == BLADE_CONVERGED);
    CHECK(blade_case_number(c, "setting.set_angle", &value) == BLADE_CONVERGED);
    CHECK(fabs(value - 0.5235987755982988) < 1e-15);
    CHECK(blade_case_set_text(c, "setting.holding", "floating") == BLADE_CONVERGED);
    CHECK(blade_case_set_number(c, "blade.thickness", -1.0) == BLADE_BAD_INPUT);
    CHECK(strstr(blade_case_error(c), "blade.thickness") != NULL);
    CHECK(blade_case_read(c, bad, sizeof bad - 1) == BLADE_BAD_INPUT);
    CHECK(strstr(blade_case_error(c), "blade.thickness") != NULL);
    CHECK(blade_case_set_text(c, "setting.set_angle", "30") == BLADE_BAD_INPUT);
    CHECK(blade_case_set_text(c, "setting.colour", "red") == BLADE_BAD_INPUT);
    CHECK(blade_case_number(c, "setting.holding", &value) == BLADE_BAD_INPUT && isnan(value));
    CHECK(blade_case_number(c, "setting.interference", &value) == BLADE_CONVERGED && isnan(value));
    CHECK(strcmp(blade_case_error(c), "") == 0);

    CHECK(blade_case_write(c, NULL, 0, &needed) == BLADE_TOO_SMALL && needed > 100);
    text = malloc(needed);
    CHECK(blade_case_write(c, text, needed, NULL) == BLADE_CONVERGED);
    CHECK(blade_case_set_number(c, "setting.set_angle", 0.6) == BLADE_CONVERGED);
    CHECK(blade_case_read(c, text, needed) == BLADE_CONVERGED);
    CHECK(blade_case_number(c, "setting.set_angle", &value) == BLADE_CONVERGED && value < 0.53);
    free(text);
    blade_case_free(c);
    blade_case_free(NULL);
}

static void points_one_by_one_and_many_at_once(void) {
    enum { kPoints = 12, kRow = 5 };
    blade_case* c = blade_case_new();
    blade_solver* s = blade_solver_new();
    blade_workspace* w;
    double in[3 * kPoints], out[kRow * kPoints], one[2], back[2];
    int statuses[kPoints];
    size_t i;
    unsigned char* kept = malloc(blade_stand_size());
    blade_many many;

    CHECK(blade_workspace_new(s) == NULL);
    CHECK(blade_solver_set_up(s, c, 3, kFields, 2, kOutputs, 0) == BLADE_CONVERGED);
    w = blade_workspace_new(s);
    CHECK(w != NULL);
    /* fields one after the other: a column for each; outputs in rows of five, backwards from the last point */
    for (i = 0; i < kPoints; ++i) {
        in[i] = 0.5 + 0.01 * (double)i;
        in[kPoints + i] = 80.0 + 5.0 * (double)i;
        in[2 * kPoints + i] = 2.0 + 0.25 * (double)i;
    }
    in[kPoints + 3] = -1.0;
    many.points = kPoints;
    many.in = in, many.in_point_stride = 1, many.in_field_stride = kPoints;
    many.out = out + kRow * (kPoints - 1), many.out_point_stride = -kRow, many.out_output_stride = 1;
    many.statuses = statuses, many.warm = 0;
    CHECK(blade_solve_many(s, w, &many) == BLADE_OUT_OF_RANGE);
    for (i = 0; i < kPoints; ++i) {
        const double row[3] = {in[i], in[kPoints + i], in[2 * kPoints + i]};
        const blade_status status = blade_solve(s, w, row, one, 0);
        const double* there = out + kRow * (kPoints - 1 - i);
        CHECK((int)status == statuses[i]);
        if (i == 3) {
            CHECK(status == BLADE_OUT_OF_RANGE && isnan(one[0]) && isnan(there[0]));
            CHECK(strlen(blade_workspace_error(w)) > 0);
        } else {
            CHECK(status == BLADE_CONVERGED && one[0] > 0.0 && one[0] == there[0] && one[1] == there[1]);
            CHECK(strcmp(blade_workspace_error(w), "") == 0);
        }
    }
    /* a step that is undone */
    {
        const double here[3] = {0.55, 110.0, 4.0}, next[3] = {0.551, 111.0, 4.1};
        CHECK(blade_solve(s, w, here, one, 1) == BLADE_CONVERGED);
        CHECK(blade_workspace_keep(w, kept, blade_stand_size()) == BLADE_CONVERGED);
        CHECK(blade_solve(s, w, next, one, 1) == BLADE_CONVERGED);
        CHECK(blade_workspace_put_back(w, kept, blade_stand_size()) == BLADE_CONVERGED);
        CHECK(blade_solve(s, w, next, back, 1) == BLADE_CONVERGED);
        CHECK(one[0] == back[0]);
        CHECK(blade_workspace_keep(w, kept, 1) == BLADE_BAD_ARGUMENT);
    }
    for (i = 0; i < blade_workspace_flag_count(w); ++i) {
        blade_flag f;
        CHECK(blade_workspace_flag(w, i, &f) == BLADE_CONVERGED && strlen(f.name) > 0 && strlen(f.message) > 0);
    }
    CHECK(blade_workspace_flag(w, 1000, NULL) == BLADE_BAD_ARGUMENT);
    CHECK(blade_solve(s, w, NULL, one, 0) == BLADE_BAD_ARGUMENT);
    CHECK(blade_solve(NULL, w, in, one, 0) == BLADE_BAD_ARGUMENT);
    CHECK(blade_solve(s, NULL, in, one, 0) == BLADE_BAD_ARGUMENT);
    CHECK(blade_solve_many(s, w, NULL) == BLADE_BAD_ARGUMENT);
    blade_workspace_free(w);

    {
        const char* const unknown[] = {"film_on_walls"};
        const char* const nothing[] = {NULL};
        CHECK(blade_solver_set_up(s, c, 3, kFields, 1, unknown, 0) == BLADE_BAD_INPUT);
        CHECK(strstr(blade_solver_error(s), "film_on_walls") != NULL);
        CHECK(blade_solver_set_up(s, c, 1, unknown, 2, kOutputs, 0) == BLADE_BAD_INPUT);
        CHECK(blade_solver_set_up(s, c, 1, nothing, 2, kOutputs, 0) == BLADE_BAD_ARGUMENT);
        CHECK(blade_solver_set_up(s, c, 3, kFields, 2, kOutputs, 2) == BLADE_BAD_ARGUMENT);
    }
    free(kept);
    blade_solver_free(s);
    blade_case_free(c);
}

int main(void) {
    the_tables_name_every_field();
    a_case_says_what_is_wrong();
    points_one_by_one_and_many_at_once();
    printf("%s\n", failures == 0 ? "all checks of the C interface hold" : "the C interface fails");
    return failures == 0 ? 0 : 1;
}

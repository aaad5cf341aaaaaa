// Catch2 2.x makes its main here, once; 3.x brings its own.
#define CATCH_CONFIG_MAIN
#include "catch.hpp"

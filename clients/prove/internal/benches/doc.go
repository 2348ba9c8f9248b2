// Package benches makes tables and pictures of what Go's benchmarks print.
//
// It promises a row for each benchmark, with the goal that goals.go has for it, and a picture for each series: benchmarks
// that differ in one number of their names, as in BenchmarkSolve/rows=48. It will never run a benchmark.
package benches

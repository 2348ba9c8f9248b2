// Package worth says what readings and moves are worth for a planter as a whole: the chance that all of
// its rows lie within tolerance at once, and how far its true depths are apart.
//
// A verdict takes each row for itself and expects nothing of it, which is cautious and calibrated. About
// all rows together that way of thinking is badly wrong, because the noise of the readings is counted
// twice: on a level planter of 24 rows it puts the true spread 1.5 mm too high. So rows are taken here as
// what they are, of one population: first depths d_i ~ N(g, σ²), where σ² is what the readings' scatter
// leaves over after their own uncertainty. What is not known of σ² is counted by integrating over its
// distribution. Rows that are plainly unlike the others stand each for itself: counted in, they would make
// the population as wide as they are far, and the noise of all others would count twice again. Four or more that are
// unlike the others and like each other, such as worn edge rows, are a population of their own. Fewer than 4 rows say too
// little of their population and stand each for itself.
//
// One population of all rows is the simpler rule. On planters whose edge rows have all worn by 8 mm its chance of all rows
// was up to 32 points off and its interval of the true spread held 0.77; standing alone, such rows left it 15 points off.
//
// One fixed set of low-discrepancy points serves every call: the same question has the same answer, and
// no decision hangs on it. The points are permutations k → ak² + bk + c (mod 512) of the 512 middle
// quantiles of a Gaussian, one permutation a row: every row alone is stratified perfectly, also within each
// of the 16 parts into which the distribution of σ² is cut. The coefficients are the best of 4,000 tried: with
// them the expected range of n like Gaussians is right within 1 % and a chance within 5 points, mostly 2. A
// Sobol sequence would need a table of direction numbers for 122 dimensions; products of the rows' chances
// would give the chance closer, but not the range, and take as long again.
package worth

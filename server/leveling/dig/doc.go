// Package dig says what seed depths dug by hand in the field prove of each row: which rows plant deeper or
// shallower than the rest, which differences are noise, and how many more seeds would settle a row.
//
// Analyze does it all; what it says of a row goes into package plan unchanged (Row.Estimate). Parse reads
// seeds as people paste them. Describe draws an analysis as text.
//
// Method: one-way random-effects analysis of variance. The components of variance come from the mean
// squares (Henderson's first method; Searle, Casella & McCulloch, Variance Components, 1992: from memory),
// the rows' depths are best linear unbiased predictions, and their uncertainty has the term of Prasad & Rao
// (J. Amer. Statist. Assoc. 85, 1990: from memory) for the components being estimated themselves.
//
// Rows do not all scatter alike. Each row's variance is held against the pooled one of the others (F at 5 %, one-sided,
// the pool without the rows already set apart, until nothing changes); a row that stands out is set apart: its own
// variance, times (t/z)² for its few degrees of freedom, is its weight in the mean, its shrinking and its uncertainty.
// In the sum of squares between rows it counts with as many seeds as make its mean as certain. Taking its variance off
// that sum instead is the road not taken: one row of six times the scatter then hides what the steady rows differ by.
// And where its mean lies farther off than the others' spread allows, nothing of theirs is read into it. Every row on
// its own variance is exact and too wide for all; variances shrunk towards a common prior leave the interval of the
// row that bounces at 70 to 82 in 100. That scatter is the trouble is told on stronger grounds, one clean dig in ten.
//
// It promises finite figures for finite depths, the same for rows in whatever order, and never to call a row
// certain because the rows happen to agree. It keeps nothing and knows no planter.
package dig

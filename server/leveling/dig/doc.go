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
// It promises finite figures for finite depths, the same for rows in whatever order, and never to call a row
// certain because the rows happen to agree. It keeps nothing and knows no planter.
package dig

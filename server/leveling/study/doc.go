// Package study says whether a fixture is good enough: from repeated readings of several rows by one or more
// people to the scatter of the fixture itself, of people and of rows, and from there to the smallest
// tolerance that it can prove with so many readings.
//
// Method: two-way crossed random-effects analysis of variance, rows by people. Methods differ in their numbers
// on the same data (averages and ranges give others), so the answer names its own. What people and rows do
// together (interaction) is pooled into the repeatability where it shows no more than chance, by the rule of
// gauge studies (Pooling). A negative component is told and counts as 0.
//
// The components of a sum are known by their own degrees of freedom, and the sum by Satterthwaite's (Biometrics Bulletin
// 2, 1946: from memory); Student's t with as many makes the bound. Three people have two degrees, two have one: below
// three no figure for several people is given. Modified large-sample limits (Burdick & Graybill) bound the variance and
// not what a reading may be off by, so they were left.
//
// It promises finite figures for finite readings, the same in whatever order. It keeps nothing.
package study

// Package alike finds rows that read unlike the rest together: a section of the frame, a wing, a rank, the edge
// rows. They may be worn alike, or the planter or the fixture stood otherwise there while they were read; which of
// the two it is, readings cannot tell.
//
// Each group is held against all other rows by the difference of their means. The largest t over all groups is
// compared with what it is when the same depths are dealt to the rows at random (a permutation test of the maximum,
// Westfall and Young's single step), so that the chance of any finding among equal rows is 5 % over all groups together,
// however they overlap and whatever the depths' distribution. A difference of one ruling or less is no finding.
// The random orders are the same for every call: the same depths have the same answer.
package alike

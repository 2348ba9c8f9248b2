// Package emergence says what a spread in planting depth may cost in time: millimetres to degree days, and
// with a field's own degree days to days. For corn, from published figures, whose sources travel with every
// answer.
//
// It is a guide and says so: emergence differs by soil, moisture, residue and seed. Where nothing was published
// (seed shallower than 2 inches, other crops) it tells no figure.
package emergence

// Package length reads lengths as people at a planter type and paste them, and writes them: 2 1/4, 2-1/4", 2¼,
// 7/8 in, 2.25 in, 57.2 mm, 57,2 mm.
//
// It promises exact arithmetic: what is read is a rational number of mm, rounded once when it becomes a float64.
// It will never guess a unit, take an exponent, or return something that is not finite. What can be read in two
// ways is refused with a Reason, and whoever asked says how to write it.
//
// # The grammar
//
// A number is a whole number, a decimal, a fraction or a whole number with a fraction below one; a sign may stand
// before it. A blank or a hyphen stands between the whole and the fraction; neither is needed before ½, ¼ and the
// like. Every Unicode blank is a blank (from a web page: no-break and thin ones), and so are hyphens, dashes and
// fraction slashes what they look like. Digits are 0 to 9.
//
// 17/8 is refused: it may be 2 1/8, or 1 7/8 without its blank. 7/4 cannot be 7/4 of anything else, and is read.
//
// Twelve digits are kept. Decimals beyond them are rounded, because programs write 52.387499999999996 for 52.3875; a
// larger whole number, or a longer fraction, is refused. Fewer than 53 bits then hold the numerator and the
// denominator of every length, so that the page gets the same float64 by one division.
//
// # Units
//
// Millimeters, centimeters and inches, in English and Spanish, with or without a blank. A foot is not read: no
// length of a row unit is given in feet, and 2' is more often a 2" that lost half of its sign.
//
// # Points and commas
//
// A point is always the decimal sign: gauges, spreadsheets and this service write it, and the depth 47.625 is as
// common as any. A comma may be a decimal sign, stand between thousands, or stand between two numbers:
//
//   - One number typed alone: 50,5 is 50.5. A comma before exactly three digits (1,500 and 47,625) may stand between
//     thousands and is refused, but 0,125 cannot. More than one comma, or a comma beside a blank, is refused.
//   - A Line of several numbers with semicolons or tabs: these separate, so a comma is a decimal sign.
//   - A Line without them: a comma beside a blank separates, and so does the one behind the number of a row. A comma
//     between two digits is refused, because 1 50,5 52,1 may be two depths of row 1 or four. It is read as a separator
//     only where no other reading is left: commas alone separate the line, and the line has a decimal point or a
//     fraction, or a heading that names that many columns.
//
// The road not taken is to decide by the reader's language, or by which reading gives the more likely depths. A phone
// in Spanish shows a comma on its keys to somebody whose notes have points; and a mean of 26.6 mm is as likely as one
// of 51.3. A refusal costs a minute. Seeds that were never dug cost a walk to the field, or a wrong correction.
//
// # Where it is read
//
// The command line, pasted seeds and the page read by this one grammar. The page cannot run Go, so app/lengths.js says
// it a second time, and testdata/lengths.json holds both to the same numbers and the same reasons; a test runs both over
// random texts too. The package lies in proto because what a typed text means is promised to every client, as a
// field is; the core may import it, for it needs nothing but the standard library.
package length

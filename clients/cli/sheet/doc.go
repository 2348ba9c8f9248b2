// Package sheet reads the file that a technician keeps in a spreadsheet, a few lines on the planter and
// then a table of rows, and makes a plan request of it.
//
// It is tolerant of what spreadsheets do to a file (byte order marks, separators, quotes, empty columns)
// and strict about meaning: a length without a unit is a mistake, never a guess. All mistakes are
// reported at once, each with its line and column. It is pure: it will never open a file or call a
// service; the styles come in as the service told them.
package sheet

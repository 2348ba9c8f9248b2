// Package draw turns a service's answers into text that a technician can take to the planter: 80 columns
// wide, plain words, a picture of the rows.
//
// It is pure and computes nothing of the job: it will never judge a row, it only rounds and lays out
// what the service said.
package draw

// width is that of a sheet of paper and of an old terminal, columns.
const width = 80

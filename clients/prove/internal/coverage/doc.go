// Package coverage proves that what the service says of its own uncertainty is what happens: stated intervals hold the true
// depth as often as they should, and rows are even as often as their chance says.
//
// It promises that the truth is drawn here, by plain code, and never told to the service, which sees ruled readings only. It
// will never look at what work a plan makes: that is another part's.
package coverage

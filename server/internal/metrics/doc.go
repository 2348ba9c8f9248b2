// Package metrics is the one room that knows Prometheus: what the other rooms count, as metrics of this
// process. Its labels have bounded values: methods and routes of the contract, codes, and programs of the
// adjusters' folder; never a shop, a job or anything else that a caller writes.
package metrics

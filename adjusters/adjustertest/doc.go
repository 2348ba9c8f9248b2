// Package adjustertest is the exam for any adjuster program, in any language: it starts the program as
// the service would, asks it what the contract allows and much that it forbids, and returns what it
// found. It promises to look only at what crosses the wire, and to leave no program running.
//
// Questions with known answers come from case files: plain JSON, so that an adjuster in another
// language can use them too. A file is {"cases": [...]}; see Case for the fields.
package adjustertest

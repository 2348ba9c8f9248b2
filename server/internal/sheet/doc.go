// Package sheet writes the sheet that is handed over with a planter: what every row was found at and left
// at and how sure that is, what was moved, the marks, who did it, and the hash of the log that was signed.
//
// One page of blocks is made from a job's state and a language. HTML and PDF are two ways to set that
// page; CSV has a line a row and no words of a language. The same job in the same language is the same
// bytes. A sheet judges nothing: verdicts, chances and depths are the job's own. It never shows an unsigned
// job without saying that it is a draft.
package sheet

// Package house holds no code: its test walks the imports of the whole module and fails on an arrow
// that points the wrong way, as DEVELOPERS.md draws them.
package house

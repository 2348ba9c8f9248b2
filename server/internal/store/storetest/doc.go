// Package storetest is the exam that every store sits, a file a subject.
package storetest

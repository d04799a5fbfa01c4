// Package measure reads a design's folder and turns it into facts. It is the only package that reads a
// design's files, and it reads them through a file system handed in, so that what lies outside the folder
// cannot be reached.
//
// Nothing is judged here: a mesh that cannot be read, a file that is not there are facts with a problem, not
// Go errors. An error means that the machine failed.
package measure

// Package check judges one design: rules from (design, facts, past) to findings. It opens no file and
// measures nothing, so that its tests are tables of hand-written facts.
//
// One file holds the rules of one topic. A rule adds findings, or says with NotChecked what it could not
// judge for want of a figure; it never passes what it does not know. Codes and their explanations stand in
// package finding.
package check

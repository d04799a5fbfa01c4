package main

import (
	"context"
	"errors"
	"fmt"
)

// The exit statuses; of several, the highest. They stand in every command's help.
const (
	exitDone        = 0
	exitFindings    = 1   // findings of level error, a manifest that does not decode, an input that cannot be read
	exitUsage       = 2   // wrong usage
	exitMachine     = 3   // the machine failed: output, disk, network, permission
	exitRefused     = 4   // refused by a rule
	exitInterrupted = 130 // Ctrl-C
)

// statusError is an error with its exit status and a hint that says what to do next.
type statusError struct {
	status int
	err    error
	hint   string
}

func (e *statusError) Error() string { return e.err.Error() }
func (e *statusError) Unwrap() error { return e.err }

func usage(hint, format string, a ...any) error {
	return &statusError{exitUsage, fmt.Errorf(format, a...), hint}
}

func machine(hint, format string, a ...any) error {
	return &statusError{exitMachine, fmt.Errorf(format, a...), hint}
}

func refused(hint, format string, a ...any) error {
	return &statusError{exitRefused, fmt.Errorf(format, a...), hint}
}

// unreadable is an input that was named and cannot be read.
func unreadable(hint, format string, a ...any) error {
	return &statusError{exitFindings, fmt.Errorf(format, a...), hint}
}

// errFindings ends a command that has printed findings of level error: nothing more is to be said.
var errFindings = &statusError{status: exitFindings, err: errors.New("findings")}

// status maps what a command returned to its exit status.
func status(ctx context.Context, err error) int {
	var s *statusError
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, context.Canceled) || ctx.Err() != nil:
		return exitInterrupted
	case errors.As(err, &s):
		return s.status
	}
	return exitMachine
}

// Command dropwright runs an independent maker's weekly series of 3D-printed designs: it measures the meshes,
// cross-checks each design, works out the bill of materials, renders the assembly sheet, packs the bundles and
// keeps the calendar of drops.
//
// This file only builds the environment and exits; run is what tests call. Each command has a file of its own.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"
)

// env is everything that a run takes from outside, so that a test can hand in its own.
type env struct {
	ctx    context.Context
	args   []string
	stdin  io.Reader
	stdout io.Writer
	stderr io.Writer
	now    func() time.Time
	getenv func(string) string
	dir    string // working folder
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second Ctrl-C ends the program at once
	dir, err := os.Getwd()
	if err != nil {
		dir = "."
	}
	code := run(env{ctx: ctx, args: os.Args[1:], stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr, now: time.Now, getenv: os.Getenv, dir: dir})
	stop()
	os.Exit(code)
}

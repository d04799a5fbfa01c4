package main

import (
	"errors"
	"io"
	"strings"
	"testing"
	"time"
)

// full is a disk without room after so many bytes.
type full struct{ room int }

func (f *full) Write(p []byte) (int, error) {
	if f.room -= len(p); f.room < 0 {
		return 0, errors.New("no space left on device")
	}
	return len(p), nil
}

// TestFullOutputIsNoticed: a result that could not be written whole is a failure of the machine, whatever
// the command.
func TestFullOutputIsNoticed(t *testing.T) {
	for _, args := range [][]string{{"hardware", "M3"}, {"boards"}, {"schema", "design"}, {"--help"}} {
		for _, room := range []int{0, 20} {
			var said strings.Builder
			code := run(env{ctx: t.Context(), args: args, stdout: &full{room}, stderr: &said, now: time.Now, getenv: func(string) string { return "" }, dir: t.TempDir()})
			if code != exitMachine || !strings.Contains(said.String(), "no space left") {
				t.Errorf("%v with %d bytes of room: status %d, said %q", args, room, code, said.String())
			}
		}
		if code := run(env{ctx: t.Context(), args: args, stdout: io.Discard, stderr: io.Discard, now: time.Now, getenv: func(string) string { return "" }, dir: t.TempDir()}); code != exitDone {
			t.Errorf("%v with room enough: status %d", args, code)
		}
	}
}

package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// TestFilesAreCurrent: what lies in the examples is what the command writes, byte for byte.
func TestFilesAreCurrent(t *testing.T) {
	made := files()
	if len(made) < 30 {
		t.Fatalf("only %d files", len(made))
	}
	for name, want := range made {
		got, err := os.ReadFile(filepath.Join("..", "designs", filepath.FromSlash(name)))
		if err != nil {
			t.Error(err)
		} else if !bytes.Equal(got, want) {
			t.Errorf("%s is not what the command writes: go run ./examples/broken/tools", name)
		}
	}
}

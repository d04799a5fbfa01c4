package main

import (
	"bytes"
	"fmt"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle/finding"
	"dropwright/bundle/trial"
)

func (a *app) trialRemoveCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "remove NUMBER",
		Short: "take one test print out of the log",
		Long: `Takes the print with that number, as ` + "`dropwright trial`" + ` lists them, out of the log; the numbers of
later ones go down by one.`,
		Example: "  dropwright trial remove 2",
		Args:    cobra.ExactArgs(1),
		RunE:    func(cmd *cobra.Command, args []string) error { return a.trialRemove(args[0]) },
	}
}

func (a *app) trialRemove(word string) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	log, data, err := a.trials(s)
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(word)
	if err != nil || n < 1 || n > len(log) {
		return usage("`dropwright trial` lists them with their numbers", "there is no trial %q: %s logged", word, plural(len(log), "print"))
	}
	if err := a.replaceFile(filepath.Join(s.dir, trialsFile), withoutRecord(data, n)); err != nil {
		return err
	}
	r := log[n-1]
	fmt.Fprintf(a.stdout, "removed: %s of %s\n", path.Join(r.Design, r.Part), r.At.UTC().Format("2006-01-02"))
	return a.unbookTrial(s, r)
}

// withoutRecord is a log without its n-th record, from 1; every other byte stays. Empty lines are no records.
func withoutRecord(data []byte, n int) []byte {
	var out []byte
	for line := range bytes.Lines(data) {
		if len(bytes.TrimSpace(line)) > 0 {
			if n--; n == 0 {
				continue
			}
		}
		out = append(out, line...)
	}
	return out
}

// misspelt says which words of the line became part of the note though they are nearly the name of something.
func (t *newTrial) misspelt(words []string, r trial.Record) {
	n := t.names()
	known := slices.Concat(n.Printers, n.Filaments, n.Variants)
	for _, w := range words {
		if near := finding.Nearest(w, known); near != "" && near != w && slices.Contains(strings.Fields(r.Note), w) {
			t.ui.say("note: %q was taken as a note; if you meant %s, `dropwright trial remove` takes the print out again", w, near)
		}
	}
}

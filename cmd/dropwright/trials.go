package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"

	"dropwright/bundle/facts"
	"dropwright/bundle/trial"
)

// trialsFile is the log of test prints of a whole series, kept by the tool beside series.yaml.
const trialsFile = "trials.jsonl"

// maxTrials is the largest log that is read, in bytes: half a million prints.
const maxTrials = 256 << 20

// readTrials reads the log of test prints; a series without one has none. A damaged line is a *trial.LineError.
func readTrials(s *season) (log []trial.Record, data []byte, err error) {
	f, err := s.root.Open(trialsFile)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, nil
	}
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return nil, nil, err
	}
	if !st.Mode().IsRegular() || st.Size() > maxTrials {
		return nil, nil, fmt.Errorf("%s is no plain file of at most %d MB", trialsFile, maxTrials>>20)
	}
	if data, err = io.ReadAll(f); err != nil {
		return nil, nil, err
	}
	log, err = trial.Read(bytes.NewReader(data))
	return log, data, err
}

// trials is readTrials for the commands of the log itself: they cannot do without it.
func (a *app) trials(s *season) (log []trial.Record, data []byte, err error) {
	log, data, err = readTrials(s)
	var line *trial.LineError
	switch {
	case err == nil:
		return log, data, nil
	case errors.As(err, &line):
		return nil, nil, unreadable("mend or remove that line; git log -p "+trialsFile+" shows when it changed", "%s:%d: %s", path.Join(s.Shown, trialsFile), line.Line, line.Text)
	}
	return nil, nil, machine("check that you may read "+path.Join(s.Shown, trialsFile), "reading the trials: %w", err)
}

// logged is the log for commands that can do without it. One that cannot be read is said once, and nothing is
// learnt from it: estimates say themselves what they rest on.
func (a *app) logged(s *season) []trial.Record {
	if !s.asked {
		log, _, err := a.trials(s)
		if err != nil {
			a.ui.say("note: %v; the trials are left out of account", err)
			log = nil
		}
		s.asked, s.trials = true, log
	}
	return s.trials
}

// factors is what was learnt from the series' trials. For what goes out it is the holes alone: grams and hours
// in a bundle are the model's, so that the next logged print does not change the bytes of a revision, and a
// builder's printer is another one.
func (a *app) factors(s *season) []trial.Factors {
	list := trial.Calibrate(a.logged(s))
	if s.goesOut {
		for i := range list {
			list[i].Grams, list[i].Seconds = trial.Fit{}, trial.Fit{}
		}
	}
	return list
}

// accepted says whether the last print of every part's present mesh was accepted.
func (a *app) accepted(s *season, f *facts.Design) bool {
	log := a.logged(s)
	for _, p := range f.Parts {
		m, ok := f.Mesh(p.Mesh)
		if !ok {
			return false
		}
		if _, ok := trial.Accepted(log, m.SHA256); !ok {
			return false
		}
	}
	return len(f.Parts) > 0
}

// appendTrial adds one record to the log as a line of its own, and returns only when it is on the disk. data is
// what the log holds: where its last line lacks an end, it gets one.
func appendTrial(s *season, data []byte, r trial.Record) error {
	var line bytes.Buffer
	if len(data) > 0 && data[len(data)-1] != '\n' {
		line.WriteByte('\n')
	}
	if err := trial.Append(&line, r); err != nil {
		return err
	}
	f, err := s.root.OpenFile(trialsFile, os.O_WRONLY|os.O_APPEND|os.O_CREATE, 0o666)
	if err != nil {
		return err
	}
	if _, err = f.Write(line.Bytes()); err == nil { // one write: two runs at once leave two whole lines
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return err
}

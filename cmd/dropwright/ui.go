package main

// Rules of the interface.
//
//   - Results go to stdout, messages and progress to stderr; with --format json stdout holds JSON alone.
//   - A message begins with "dropwright: ", lower case, without a full stop. Under it a hint, indented, says
//     what to type or edit next. Every refusal has one.
//   - Progress appears only on a terminal, on one line that is redrawn at most ten times a second, and is
//     wiped when the work ends.
//   - Colour marks the level word of a finding and nothing else, and never carries meaning alone. Order:
//     --color, NO_COLOR, CLICOLOR_FORCE, TERM=dumb, terminal.
//   - Figures carry their units.

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"golang.org/x/term"

	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

type ui struct {
	out, err io.Writer
	quiet    bool
	colour   bool // of stdout
	progress bool // stderr is a terminal
	width    int  // of the terminal, 0 when unknown
	last     time.Time
	shown    bool
	now      func() time.Time
}

func newUI(e env, quiet bool, color string) *ui {
	u := &ui{out: e.stdout, err: e.stderr, quiet: quiet, now: e.now}
	dumb := e.getenv("TERM") == "dumb"
	switch {
	case color == "always":
		u.colour = true
	case color == "never" || e.getenv("NO_COLOR") != "":
	case e.getenv("CLICOLOR_FORCE") != "" && e.getenv("CLICOLOR_FORCE") != "0":
		u.colour = true
	default:
		u.colour = !dumb && isTerminal(e.stdout)
	}
	u.progress = !quiet && !dumb && isTerminal(e.stderr)
	u.width = 100
	if f, ok := under(e.stdout).(*os.File); ok {
		if w, _, err := term.GetSize(int(f.Fd())); err == nil && w > 20 {
			u.width = w
		}
	}
	return u
}

// noticing passes results on and keeps the first error: a full disk must not look like a short result. The
// many prints of a command need not each look for it.
type noticing struct {
	to  io.Writer
	err error
}

// Write is io.Writer's; after an error nothing more is passed on.
func (n *noticing) Write(p []byte) (int, error) {
	if n.err != nil {
		return 0, n.err
	}
	done, err := n.to.Write(p)
	n.err = err
	return done, err
}

// under is what a writer passes on to.
func under(w io.Writer) io.Writer {
	if n, ok := w.(*noticing); ok {
		return n.to
	}
	return w
}

// plainly is an error of the system without the call and the names it came with: those of files on their way
// mean nothing to anyone.
func plainly(err error) error {
	var p *os.PathError
	var l *os.LinkError
	switch {
	case errors.As(err, &p):
		return p.Err
	case errors.As(err, &l):
		return l.Err
	}
	return err
}

func isTerminal(w io.Writer) bool {
	f, ok := under(w).(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// say prints a message that is not a result; --quiet keeps it back.
func (u *ui) say(format string, a ...any) {
	if u.quiet {
		return
	}
	u.wipe()
	fmt.Fprintf(u.err, format+"\n", a...)
}

// fail prints the error a command ended with, and its hint.
func (u *ui) fail(err error) {
	u.wipe()
	if errors.Is(err, errFindings) {
		return
	}
	if errors.Is(err, context.Canceled) {
		fmt.Fprintln(u.err, "dropwright: interrupted")
	} else {
		fmt.Fprintf(u.err, "dropwright: %s\n", err)
	}
	var s *statusError
	if errors.As(err, &s) && s.hint != "" {
		for _, l := range strings.Split(s.hint, "\n") {
			fmt.Fprintf(u.err, "  %s\n", l)
		}
	}
}

// step redraws the progress line.
func (u *ui) step(format string, a ...any) {
	if !u.progress {
		return
	}
	if t := u.now(); t.Sub(u.last) < 100*time.Millisecond {
		return
	} else {
		u.last = t
	}
	line := fmt.Sprintf(format, a...)
	if len(line) > u.width-1 {
		line = line[:u.width-1]
	}
	fmt.Fprintf(u.err, "\r\x1b[K%s", line)
	u.shown = true
}

func (u *ui) wipe() {
	if u.shown {
		fmt.Fprint(u.err, "\r\x1b[K")
		u.shown = false
	}
}

// paint colours a word by level, when colours are on.
func (u *ui) paint(l finding.Level, s string) string {
	if !u.colour {
		return s
	}
	return map[finding.Level]string{finding.Error: "\x1b[1;31m", finding.Warning: "\x1b[1;33m", finding.Note: "\x1b[1;36m"}[l] + s + "\x1b[0m"
}

func (u *ui) bold(s string) string {
	if !u.colour {
		return s
	}
	return "\x1b[1m" + s + "\x1b[0m"
}

// table prints rows with columns as wide as their widest cell, two spaces between. A cell that begins with a
// tab is set to the right (figures). The first row is the head.
func (u *ui) table(rows [][]string) {
	var width []int
	for _, r := range rows {
		for i, c := range r {
			if i == len(width) {
				width = append(width, 0)
			}
			width[i] = max(width[i], cells(strings.TrimPrefix(c, "\t")))
		}
	}
	for k, r := range rows {
		var b strings.Builder
		for i, c := range r {
			text, right := strings.CutPrefix(c, "\t")
			pad := strings.Repeat(" ", width[i]-cells(text))
			if i > 0 {
				b.WriteString("  ")
			}
			if right {
				b.WriteString(pad + text)
			} else {
				b.WriteString(text + pad)
			}
		}
		line := strings.TrimRight(b.String(), " ")
		if k == 0 {
			line = u.bold(line)
		}
		fmt.Fprintln(u.out, line)
	}
}

// cells counts the columns a text takes; the texts here hold no wide characters.
func cells(s string) int { return len([]rune(s)) }

// plural is "1 error", "2 errors".
func plural(n int, word string) string { return unit.Count(n, word) }

// asJSON prints a result for programs: two spaces a level, < and > as they are.
func (a *app) asJSON(v any) error {
	enc := json.NewEncoder(a.stdout)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return machine("", "writing the result: %w", err)
	}
	return nil
}

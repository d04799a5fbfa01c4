package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"dropwright/series/preview"
	"dropwright/series/site/desk"
)

// patience is how long a page waits for its design to be measured. Within a second of a change something must be on
// the screen; a design whose measuring takes longer shows its findings first.
const patience = 600 * time.Millisecond

func (a *app) previewCmd() *cobra.Command {
	var port int
	cmd := &cobra.Command{
		Use:   "preview",
		Short: "show the season and its designs in a browser, as they are while you work",
		Long: `Serves pages on this machine alone (127.0.0.1 and [::1]): the season at a glance, a page for each design
with its parts to be turned, its findings and papers, a page for each board profile. A page reloads itself
when a file changes that it was made from; a manifest that cannot be read shows what is wrong.

Nothing is fetched from anywhere, nothing is written. Ctrl-C ends it. dropwright overview --output DIR writes
the same pages as files.`,
		Example: "  dropwright preview\n  dropwright preview --port 8080",
		Args:    cobra.NoArgs,
		RunE:    func(cmd *cobra.Command, args []string) error { return a.preview(port) },
	}
	cmd.Flags().IntVar(&port, "port", 0, "port to listen on (default: 4330, or the next free one)")
	return cmd
}

func (a *app) preview(port int) error {
	if port < 0 || port > 65535 {
		return usage("write a port from 1024 to 65535", "--port: expected a number from 1 to 65535, found %d", port)
	}
	b, err := a.openBench(patience)
	if err != nil {
		return err
	}
	defer b.close()
	a.ui.progress = false // several pages may be in the making; a line for each would be noise
	d := &desk.Desk{Source: b, Now: a.now}
	if c := a.cache(); c != nil {
		d.Kept = c
	}
	listeners, got, moved, err := preview.Listen(port)
	if err != nil {
		var taken *preview.PortTakenError
		if errors.As(err, &taken) {
			return machine("end the program that has it, or leave --port out: the next free one is taken", "cannot listen on port %d: %w", taken.Port, plainly(taken.Err))
		}
		return machine("check that this machine has a loopback interface", "cannot listen: %w", err)
	}
	server := preview.New(d)
	b.touched = func(design string) { server.Touch(design) }
	w := preview.Watch(b.dir)
	if w.Why != "" {
		a.ui.say("note: the system does not tell of changes here (%s); the folder is looked through twice a second", w.Why)
	}
	if moved {
		a.ui.say("note: port 4330 is taken, by another preview perhaps; this one is at %d", got)
	}
	if _, err := fmt.Fprintf(a.stdout, "http://127.0.0.1:%d/\n", got); err != nil {
		return machine("", "printing: %w", err)
	}
	a.ui.say("Ctrl-C ends the preview")
	ctx, stop := context.WithCancel(a.ctx)
	defer stop()
	done := make(chan struct{})
	go func() {
		defer close(done)
		w.Run(ctx, func(areas []string) {
			b.forget(areas)
			server.Touch(areas...)
		})
	}()
	err = server.Serve(ctx, listeners)
	stop()
	<-done
	if err != nil {
		return machine("start it again", "the preview ended: %w", plainly(err))
	}
	return a.ctx.Err()
}

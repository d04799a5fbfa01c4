package mem

import (
	"context"
	"errors"
	"testing"

	"dropwright/series/target"
	"dropwright/series/target/targettest"
)

func TestConformance(t *testing.T) {
	targettest.Run(t, func(*testing.T) target.Target { return New("test") })
}

func TestLostAnswer(t *testing.T) {
	m := New("test")
	m.Fault = func(op Op) error {
		if op.Late && op.N == 1 {
			return ErrLost
		}
		return nil
	}
	ctx := context.Background()
	if err := m.Create(ctx, "a", target.Text([]byte("x"))); !errors.Is(err, ErrLost) {
		t.Fatal(err)
	}
	if err := m.Create(ctx, "a", target.Text([]byte("x"))); err != nil || m.Writes("a") != 1 {
		t.Errorf("%v, stored %d times", err, m.Writes("a"))
	}
}

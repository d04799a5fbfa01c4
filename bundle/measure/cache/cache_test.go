package cache

import (
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
)

type thing struct {
	A float64
	B []string
}

func TestKeepsAndFinds(t *testing.T) {
	c := New(t.TempDir(), "build 1", 0)
	want := thing{0.1 + 0.2, []string{"x"}}
	var got thing
	if c.Get("k", &got) {
		t.Fatal("found before it was kept")
	}
	c.Put("k", want)
	if !c.Get("k", &got) || got.A != want.A || got.B[0] != "x" {
		t.Fatalf("got %+v", got)
	}
	if New(c.dir, "build 2", 0).Get("k", &got) {
		t.Error("another build finds it")
	}
	var none *Cache
	none.Put("k", want)
	if none.Get("k", &got) {
		t.Error("no cache finds something")
	}
}

func TestKeyKeepsPartsApart(t *testing.T) {
	if Key("ab", "c") == Key("a", "bc") || Key("a") == Key("a", "") || Key(1) == Key("1") {
		t.Error("two different inputs have one key")
	}
}

// TestDamageIsNotFound changes every byte of a kept file: it must be found unchanged or not at all.
func TestDamageIsNotFound(t *testing.T) {
	c := New(t.TempDir(), "b", 0)
	c.Put("k", thing{A: 12345.678})
	p := c.path("k")
	good, err := os.ReadFile(p)
	if err != nil {
		t.Fatal(err)
	}
	for i := range good {
		bad := append([]byte{}, good...)
		bad[i] ^= 0x01
		if err := os.WriteFile(p, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		var got thing
		if c.Get("k", &got) && got.A != 12345.678 {
			t.Fatalf("byte %d changed: got %v", i, got.A)
		}
	}
}

func TestStaysBelowItsLimit(t *testing.T) {
	dir := t.TempDir()
	big := make([]string, 100)
	for i := range big {
		big[i] = fmt.Sprintf("%090d", i)
	}
	for i := range 60 { // each opening prunes once
		New(dir, "b", 100_000).Put(fmt.Sprint(i), thing{B: big})
	}
	total := int64(0)
	_ = filepath.WalkDir(dir, func(p string, e os.DirEntry, err error) error {
		if info, err := e.Info(); err == nil && !e.IsDir() {
			total += info.Size()
		}
		return nil
	})
	if total > 110_000 || total == 0 {
		t.Errorf("the folder holds %d bytes of 100000", total)
	}
}

func TestManyAtOnce(t *testing.T) {
	dir := t.TempDir()
	var wg sync.WaitGroup
	for i := range 16 {
		wg.Go(func() {
			c := New(dir, "b", 0)
			for k := range 20 {
				c.Put(fmt.Sprint(k), thing{A: float64(k)})
				var got thing
				if c.Get(fmt.Sprint(k), &got) && got.A != float64(k) {
					t.Errorf("%d: got %v for %d", i, got.A, k)
				}
			}
		})
	}
	wg.Wait()
}

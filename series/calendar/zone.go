package calendar

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"
	_ "time/tzdata" // about 400 kB, so that a bare container or Windows knows every zone
)

// Zone is a time zone of the IANA database. The zero value is not usable; see [LoadZone].
type Zone struct {
	name string
	data string
	loc  *time.Location
}

// Name is the name in the IANA database, such as Europe/Lisbon.
func (z Zone) Name() string { return z.name }

// Data says which time zone data was read, for instance "2025b (system)" or "go1.26.8 (built in)". It is
// recorded beside resolved instants, so that a later difference can be explained.
func (z Zone) Data() string { return z.data }

// In gives the instant with the zone's wall clock, for printing.
func (z Zone) In(t time.Time) time.Time { return t.In(z.loc) }

// LoadZone finds a zone by its Area/City name. Refused are the empty name and "Local" (they would mean
// whatever machine runs the release), abbreviations other than UTC such as CET or EST5EDT (they name an offset, not a
// place, and several places share one), and the trees posix/ and right/ (the latter counts leap seconds).
func LoadZone(name string) (Zone, error) {
	first, _, slash := strings.Cut(name, "/")
	switch {
	case name == "":
		return Zone{}, fmt.Errorf("no time zone: write the nearest city, as in Europe/Lisbon")
	case name == "Local":
		return Zone{}, fmt.Errorf("zone %q differs from machine to machine: write the nearest city, as in Europe/Lisbon", name)
	case !slash && name != "UTC":
		return Zone{}, fmt.Errorf("zone %q is an abbreviation or a country: write the nearest city, as in Europe/Lisbon", name)
	case first == "" || first == "posix" || first == "right" || strings.Contains(name, `\`):
		return Zone{}, fmt.Errorf("zone %q is no Area/City name: write the nearest city, as in Europe/Lisbon", name)
	}
	// Names are case-sensitive in the built-in data; a file system that ignores case would accept more on
	// one machine than on the next.
	if first[0] < 'A' || first[0] > 'Z' {
		return Zone{}, fmt.Errorf("zone %q: capital letters count, as in Europe/Lisbon", name)
	}
	loc, err := time.LoadLocation(name)
	if err != nil {
		return Zone{}, fmt.Errorf("zone %q is not in the time zone data: write the nearest city, as in Europe/Lisbon", name)
	}
	return Zone{name: name, data: dataSource(name), loc: loc}, nil
}

// systemZones are the folders that package time looks in before the built-in copy, in its order.
// Source: GOROOT/src/time/zoneinfo_unix.go.
var systemZones = []string{"/usr/share/zoneinfo/", "/usr/share/lib/zoneinfo/", "/usr/lib/locale/TZ/", "/etc/zoneinfo/"}

// dataSource repeats package time's search to name the copy that won, as package time does not tell.
func dataSource(name string) string {
	if zi := os.Getenv("ZONEINFO"); zi != "" {
		if _, err := os.Stat(filepath.Join(zi, name)); err == nil {
			return version(zi) + " (ZONEINFO)"
		}
		if info, err := os.Stat(zi); err == nil && info.Mode().IsRegular() {
			return "unknown (ZONEINFO)"
		}
	}
	if runtime.GOOS != "windows" {
		for _, dir := range systemZones {
			if _, err := os.Stat(dir + name); err == nil {
				return version(dir) + " (system)"
			}
		}
	}
	return runtime.Version() + " (built in)"
}

// version reads the release of a folder of zone data: the first line of tzdata.zi is "# version 2025b",
// and some systems hold the bare word in +VERSION.
func version(dir string) string {
	if f, err := os.Open(filepath.Join(dir, "tzdata.zi")); err == nil {
		defer f.Close()
		head := make([]byte, 64)
		n, _ := f.Read(head)
		line, _, _ := bytes.Cut(head[:n], []byte("\n"))
		if v, ok := strings.CutPrefix(string(line), "# version "); ok {
			return v
		}
	}
	if text, err := os.ReadFile(filepath.Join(dir, "+VERSION")); err == nil && len(text) < 32 {
		return strings.TrimSpace(string(text))
	}
	return "unknown"
}

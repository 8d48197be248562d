package notices

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A module that has no licence is not handed on; of one that has, all notices above the linked
// package are shown, and none of other packages.
func TestNotices(t *testing.T) {
	folder := t.TempDir()
	for path, text := range map[string]string{
		"a/LICENSE": "licence of a", "a/licenses/more.txt": "more of a", "a/b/NOTICE.md": "notice of b",
		"a/b/license.go": "package b", "a/c/COPYING": "licence of c", "bare/README": "nothing", "bare/PATENTS": "patents alone",
	} {
		path = filepath.Join(folder, filepath.FromSlash(path))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	line := func(module, folderOf string) string {
		return module + " v1\t" + filepath.Join(folder, module) + "\t" + filepath.Join(folder, folderOf) + "\n"
	}
	got, err := notices(line("a", "a") + line("a", "a/b") + "\n")
	if err != nil {
		t.Fatal(err)
	}
	for text, times := range map[string]int{"licence of a": 1, "more of a": 1, "notice of b": 1, "package b": 0, "licence of c": 0} {
		if n := strings.Count(string(got), text); n != times {
			t.Errorf("%q is there %d times, want %d", text, n, times)
		}
	}
	if _, err := notices(line("a", "a") + line("bare", "bare")); err == nil || !strings.Contains(err.Error(), "bare v1 has no licence") {
		t.Errorf("a module without a licence: %v", err)
	}
}

// Command mutate asks whether tests hold the numbers of a package: it makes each named constant half as large again, then half as large,
// and runs the package's tests against either. A constant that no test misses may be wrong without anybody noticing.
//
//	go run ./bot/internal/trial/mutate forecast/refill forecast/signal
//
// Sources stay as they are: the changed file is laid over the original for one run of the tests. Constants are const declarations with one
// number; those of sources that are only names (iota) or texts are left out.
package main

import (
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
)

// constant is a number in a source file.
type constant struct {
	file, name, text string
	at               int // byte offset of the number
}

func main() {
	if len(os.Args) < 2 {
		fmt.Fprintln(os.Stderr, "mutate: error: no package given\nmutate: hint: name folders, such as forecast/refill")
		os.Exit(2)
	}
	for _, dir := range os.Args[1:] {
		if err := mutate(dir); err != nil {
			fmt.Fprintln(os.Stderr, "mutate: error:", err)
			os.Exit(1)
		}
	}
}

// mutate prints what becomes of each constant of the package in dir.
func mutate(dir string) error {
	all, err := constants(dir)
	if err != nil {
		return err
	}
	if out, err := test(dir, ""); err != nil {
		return fmt.Errorf("tests of %s fail as they are:\n%s", dir, out)
	}
	held := 0
	for _, c := range all {
		missed := ""
		for _, factor := range []float64{1.5, 0.5} {
			killed, err := c.killed(dir, factor)
			if err != nil {
				return err
			}
			if !killed {
				missed += fmt.Sprintf(" ×%g", factor)
			}
		}
		if missed == "" {
			held++
			continue
		}
		fmt.Printf("%s: %s = %s: no test misses%s\n", c.file, c.name, c.text, missed)
	}
	fmt.Printf("%s: %d of %d constants held both ways\n", dir, held, len(all))
	return nil
}

// constants finds the numbers of the package in dir.
func constants(dir string) (out []constant, err error) {
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return nil, err
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, name, nil, 0)
		if err != nil {
			return nil, err
		}
		for _, d := range f.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.CONST {
				continue
			}
			for _, s := range g.Specs {
				out = append(out, numbers(set, name, s.(*ast.ValueSpec))...)
			}
		}
	}
	return out, nil
}

// numbers are the constants of one declaration that are a number, or a number times a unit.
func numbers(set *token.FileSet, file string, s *ast.ValueSpec) (out []constant) {
	for i, v := range s.Values {
		if b, ok := v.(*ast.BinaryExpr); ok {
			v = b.X
		}
		lit, ok := v.(*ast.BasicLit)
		if !ok || lit.Kind != token.INT && lit.Kind != token.FLOAT || i >= len(s.Names) {
			continue
		}
		out = append(out, constant{file: file, name: s.Names[i].Name, text: lit.Value, at: set.Position(lit.Pos()).Offset})
	}
	return out
}

// killed reports whether a test fails, or the package does not compile, which is said, with the constant times factor.
func (c constant) killed(dir string, factor float64) (bool, error) {
	x, err := strconv.ParseFloat(strings.ReplaceAll(c.text, "_", ""), 64)
	if err != nil {
		return false, fmt.Errorf("%s: %s = %s: %w", c.file, c.name, c.text, err)
	}
	changed := strconv.FormatFloat(x*factor, 'g', -1, 64)
	if !strings.ContainsAny(c.text, ".eE") {
		changed = strconv.Itoa(int(x * factor))
	}
	if changed == c.text {
		return true, nil // 0 and 1 have no half
	}
	src, err := os.ReadFile(c.file)
	if err != nil {
		return false, err
	}
	tmp, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return false, err
	}
	defer os.RemoveAll(tmp)
	mutant, overlay := filepath.Join(tmp, "mutant.go"), filepath.Join(tmp, "overlay.json")
	text := string(src[:c.at]) + changed + string(src[c.at+len(c.text):])
	if err := os.WriteFile(mutant, []byte(text), 0o600); err != nil {
		return false, err
	}
	original, err := filepath.Abs(c.file)
	if err != nil {
		return false, err
	}
	lay, err := json.Marshal(map[string]map[string]string{"Replace": {original: mutant}})
	if err != nil {
		return false, err
	}
	if err := os.WriteFile(overlay, lay, 0o600); err != nil {
		return false, err
	}
	report, err := test(dir, overlay)
	if strings.Contains(report, "[build failed]") { // the compiler holds it
		fmt.Printf("%s: %s ×%g does not compile\n", c.file, c.name, factor)
	}
	return err != nil, nil
}

// test runs the tests of the package in dir, with an overlay if there is one.
func test(dir, overlay string) (string, error) {
	args := []string{"test", "-failfast", "-count=1"}
	if overlay != "" {
		args = append(args, "-overlay", overlay)
	}
	out, err := exec.Command("go", append(args, "./"+filepath.ToSlash(filepath.Clean(dir)))...).CombinedOutput()
	return string(out), err
}

//go:build vbench

package vbench

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/vividtest"
)

// technician does what a guided run asks for: plugs the receiver into the
// plug that is named, and presses Enter for a port that has no events. He
// leaves out whatever needs eyes or a meter.
type technician struct {
	t    *testing.T
	rx   *vividtest.Receiver
	keys io.Writer
	// truth is what the receiver gets at each plug; Good where none is said.
	truth map[string]vividtest.Signal
	// arrived counts the plugs that the program saw by itself.
	arrived int
}

var (
	plugWords = regexp.MustCompile(`(?s)(source|display)\s+end\s+of\s+cable\s+(\w+)`)
	stepStart = regexp.MustCompile(`(?m)^\d+\. `)
)

// work reads what the program says until it ends, and returns all of it.
func (m *technician) work(talk io.Reader) string {
	var all, step bytes.Buffer
	buf := make([]byte, 4096)
	for {
		n, err := talk.Read(buf)
		all.Write(buf[:n])
		step.Write(buf[:n])
		if m.respond(step.String()) {
			step.Reset()
		}
		if err != nil {
			return all.String()
		}
	}
}

// respond acts on the last thing that was asked for, and reports whether it
// was asked for in whole.
func (m *technician) respond(said string) bool {
	switch {
	case strings.Contains(said, "Put it into "+receiverPort) && strings.HasSuffix(said, "q to stop.\n"):
		starts := stepStart.FindAllStringIndex(said, -1)
		require.NotEmpty(m.t, starts, said)
		plug := plugWords.FindStringSubmatch(said[starts[len(starts)-1][0]:])
		require.NotNil(m.t, plug, "no plug is named in:\n%s", said)
		assert.NoError(m.t, m.rx.SetSignal(m.truth[plug[2]+"."+plug[1]]))
		m.arrived++
	case strings.HasSuffix(said, "q to stop.\n"):
		m.press("")
	case strings.HasSuffix(said, "q to stop): "):
		m.press("-")
	case strings.Contains(said, "   seen: ") && strings.HasSuffix(said, "\n"):
		assert.NoError(m.t, m.rx.SetSignal(vividtest.NoSignal))
	default:
		return false
	}
	return true
}

func (m *technician) press(key string) {
	_, err := io.WriteString(m.keys, key+"\n")
	assert.NoError(m.t, err)
}

func TestProgramGuidesToTheHop(t *testing.T) {
	rx := receiver(t)
	require.NoError(t, rx.SetSignal(vividtest.NoSignal))
	_, bus := display(t, scalerEDID(t))
	jobs := t.TempDir()

	ctx, cancel := context.WithTimeout(context.Background(), 60*time.Second)
	defer cancel()
	cmd := exec.CommandContext(ctx, "deadhop", "guide", "--json", "--chain", "testdata/medical-cart.yaml",
		"--in", receiverPort, "--out", bus, "--save", jobs)
	keys, err := cmd.StdinPipe()
	require.NoError(t, err)
	var result bytes.Buffer
	cmd.Stdout = &result
	talk, talkEnd, err := os.Pipe()
	require.NoError(t, err)
	cmd.Stderr = talkEnd
	require.NoError(t, cmd.Start())
	require.NoError(t, talkEnd.Close())
	m := &technician{t: t, rx: rx, keys: keys, truth: map[string]vividtest.Signal{"c2.display": vividtest.NoLock}}
	said := m.work(talk)
	t.Cleanup(func() {
		if t.Failed() {
			t.Log(said)
		}
	})
	_ = cmd.Wait()
	require.NoError(t, ctx.Err(), "the guided run did not end")
	assert.Equal(t, 1, cmd.ProcessState.ExitCode())

	var report struct {
		Hop *struct{ Link string }
	}
	require.NoError(t, json.Unmarshal(result.Bytes(), &report), result.String())
	require.NotNil(t, report.Hop, "no hop was named")
	assert.Equal(t, "c2", report.Hop.Link)
	assert.Positive(t, m.arrived)
	assert.Equal(t, m.arrived, strings.Count(said, "something arrived"), "a plug went in unseen")

	// What was saved on the way leads to the same hop again.
	var again struct {
		Hop *struct{ Link string }
	}
	deadhop(t, "diagnose", "--chain", "testdata/medical-cart.yaml", "--json", jobs).into(t, &again)
	assert.Equal(t, report, again)
}

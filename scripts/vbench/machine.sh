# Sourced by scripts/virtual-bench: the machine, the channel through which a
# test reaches its host, and the reading of the results.

# The cards have names of their own here so that a test can ask for a
# screendump of one. KVM may be there and hang, so tcg by name.
machine=(
	qemu-system-x86_64 -M q35,accel=tcg -cpu max -m 512 -no-reboot -nodefaults
	-vga none -display none
	-device virtio-gpu-pci,id=gpu0,addr=0x2,edid=on,max_outputs=2
	-device bochs-display,id=bochs0,addr=0x3,edid=on,vgamem=256M
	-device ati-vga,id=ati0,addr=0x4,model=rv100
	-device virtio-serial-pci,addr=0x5
)
command_line='console=ttyS0 panic=1 oops=panic mitigations=off nokaslr'
qemu_pid= host_pid=

stop_machine() {
	[[ $qemu_pid ]] && kill "$qemu_pid" 2>/dev/null
	[[ $host_pid ]] && kill "$host_pid" 2>/dev/null
	qemu_pid= host_pid=
	return 0
}

run_shell() {
	"${machine[@]}" -serial mon:stdio \
		-kernel "$kernel/boot/vmlinuz-$release" -initrd "$work/initrd" -append "$command_line"
}

run_tests() {
	local show_pid
	mkfifo "$work"/{host,qmp}.{in,out}
	: >"$work/results"
	answer_machine &
	host_pid=$!
	"${machine[@]}" -serial "file:$work/console" \
		-chardev "file,id=results,path=$work/results" \
		-device virtserialport,chardev=results,name=deadhop.results \
		-chardev "pipe,id=host,path=$work/host" \
		-device virtserialport,chardev=host,name=deadhop.host \
		-chardev "pipe,id=qmp,path=$work/qmp" -mon chardev=qmp,mode=control \
		-kernel "$kernel/boot/vmlinuz-$release" -initrd "$work/initrd" -append "$command_line" \
		</dev/null >"$work/qemu" 2>&1 &
	qemu_pid=$!
	tail -n +1 -f -s 0.1 --pid="$qemu_pid" "$work/results" 2>/dev/null | show_progress &
	show_pid=$!

	hung=
	local end=$((SECONDS + limit))
	while kill -0 "$qemu_pid" 2>/dev/null; do
		((SECONDS < end)) || {
			hung=yes
			kill -9 "$qemu_pid" 2>/dev/null || true
			break
		}
		sleep 0.2
	done
	wait "$qemu_pid" 2>/dev/null || true
	qemu_pid=
	wait "$show_pid" 2>/dev/null || true
	stop_machine
}

# answer_machine serves the port "deadhop.host": one request a line,
#   screendump DEVICE HEAD
# answered by "ok LENGTH" and a newline and that many bytes of a PPM picture,
# or by "error TEXT". The picture is what the emulated display shows.
answer_machine() {
	local verb device head rest answer picture=$work/screendump.ppm
	# Read-write, so that opening does not wait for the machine.
	exec 3<>"$work/host.out" 4<>"$work/host.in" 5<>"$work/qmp.out" 6<>"$work/qmp.in"
	printf '{"execute":"qmp_capabilities"}\n' >&6
	while IFS=' ' read -r verb device head rest <&3; do
		if [[ $verb != screendump || ! $device =~ ^[a-z0-9]+$ || ! $head =~ ^[0-9]+$ || $rest ]]; then
			printf 'error want "screendump DEVICE HEAD"\n' >&4
			continue
		fi
		rm -f "$picture"
		printf '{"execute":"screendump","arguments":{"filename":"%s","device":"%s","head":%d},"id":"picture"}\n' \
			"$picture" "$device" "$head" >&6
		while read -r answer <&5; do
			# Events and the greeting have no id.
			[[ $answer == *'"id": "picture"'* ]] && break
		done
		if [[ $answer == *'"error"'* ]]; then
			printf 'error %s\n' "${answer//[$'\r\n']/}" >&4
		else
			printf 'ok %d\n' "$(stat -c %s "$picture")" >&4
			cat "$picture" >&4
		fi
	done
}

# show_progress prints the results as they come, without the start lines.
show_progress() {
	awk '/^\026?=== / { next }
	     /^\026bench begin / { print "== " $3; fflush(); next }
	     /^\026bench / { next }
	     { gsub(/\026/, ""); print "   " $0; fflush() }'
}

# summary prints what failed and what was skipped, and ends in one plain
# line. Subtests count as tests.
summary() {
	local passed failed skipped lost verdict=0 name code down=
	local results=$work/results
	passed=$(grep -ac $'^\026--- PASS: ' "$results" || true)
	failed=$(grep -ac $'^\026--- FAIL: ' "$results" || true)
	skipped=$(grep -ac $'^\026--- SKIP: ' "$results" || true)

	while read -r name code; do
		((code == 0)) && continue
		verdict=1
		say "$name ended with exit code $code"
		# A test program that panics names no failed test.
		((failed > 0)) || failed=1
	done < <(sed -n $'s/^\026bench end //p' "$results")
	for name in "${unbuilt[@]}"; do
		verdict=1 failed=$((failed + 1))
		say "FAILED to build: $name"
	done
	# A test that ends its process with exit code 0 would look fine.
	lost=$(awk '/^ *\026*=== RUN / { n++ } /^ *\026*--- (PASS|FAIL|SKIP): / { n-- } END { print n + 0 }' "$results")
	if ! grep -aq $'^\026bench done ' "$results"; then
		verdict=1 failed=$((failed + 1)) down=yes
		if [[ $hung ]]; then
			say "HUNG: the machine did not end within $limit s"
		else
			say "DIED: the machine went down before the tests were done"
		fi
		name=$(sed -n $'s/^\026bench begin //p' "$results" | tail -n 1)
		say "it was at: ${name:-starting up}; the last lines of its results:"
		tail -n 12 "$results" | tr -d '\026' >&2
		say "the end of its console:"
		tail -n 40 "$work/console" >&2 || true
		[[ -s $work/qemu ]] && { say "qemu said:"; tail -n 5 "$work/qemu" >&2; }
	fi
	if [[ ! $down ]] && ((lost > 0)); then
		verdict=1 failed=$((failed > 0 ? failed : lost))
		say "$lost tests began and never ended:"
		awk '/^ *\026*=== RUN / { on[$3] = 1 } /^ *\026*--- / { sub(/^.*--- [A-Z]*: /, ""); delete on[$1] }
		     END { for (t in on) print "  " t }' "$results" >&2
	fi
	for name in "${missing[@]}"; do
		say "NOT IN THIS KERNEL: module $name of $release"
	done
	while read -r name; do
		verdict=1 failed=$((failed + 1))
		say "FAILED to load: module $name"
	done < <(sed -n $'s/^\026bench unloaded //p' "$results")
	if ((skipped > 0)); then
		say "SKIPPED $skipped:"
		awk '/^ *\026*--- SKIP: / { gsub(/\026/, ""); sub(/^ *--- SKIP: /, ""); print "  " $1 ": " why }
		     { why = $0; sub(/^ */, "", why) }' "$results" >&2
	fi
	if [[ ! $down ]] && ((passed + failed + skipped == 0)); then
		verdict=1
		say "no test ran${only:+: none matches $only}"
	fi
	((failed > 0)) && verdict=1
	printf 'virtual bench: %d passed, %d failed, %d skipped; kernel %s, %d s\n' \
		"$passed" "$failed" "$skipped" "$release" "$SECONDS"
	return "$verdict"
}

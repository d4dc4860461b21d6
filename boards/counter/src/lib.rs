//! A plugin for QEMU's code generator that counts instructions, exactly: the same twice.
//!
//! Told the addresses of functions, it counts what is executed from the first instruction of each
//! until control is back behind the call, whatever was called meanwhile. The first function named
//! is the *whole*; each call of it makes a line of the output: its instructions, and those of each
//! other function within it. Nothing is marked in the firmware, so what is counted is what ships.
//!
//! ```text
//! qemu-system-arm ... -plugin file=libcounter.so,out=FILE,stack=ADDRESS,watch=ADDRESS,watch=...
//! ```
//!
//! `stack` is where static memory ends; above it the lowest address written to within the whole is
//! the deepest that the stack has been. With `profile` each instruction that ran within the whole
//! adds a line: its address and how often. These lines follow those of the calls.
//!
//! The few prototypes are declared here, after QEMU's documentation of its plugin interface
//! ("QEMU TCG Plugins"); those used have been the same since its first version. A
//! function that another one jumps to at its end returns where that one does: the other one has to be
//! watched as well, or it is told that not all calls were seen to end.

mod qemu;
mod watch;

use std::ffi::{CStr, c_char, c_int, c_uint, c_void};
use std::fs::File;
use std::io::{BufWriter, Write as _};
use std::sync::Mutex;

use qemu::{Id, Info, Insn, Tb};
use watch::{Place, Watch};

/// The version of the interface that this was built for, which QEMU asks for.
#[unsafe(no_mangle)]
pub static qemu_plugin_version: c_int = qemu::VERSION;

/// One core, one thread: the lock is never waited for.
static WATCH: Mutex<Option<Watch>> = Mutex::new(None);
static OUT: Mutex<Option<String>> = Mutex::new(None);

fn with_watch(does: impl FnOnce(&mut Watch)) {
    if let Ok(mut watch) = WATCH.lock()
        && let Some(watch) = watch.as_mut()
    {
        does(watch);
    }
}

extern "C" fn executed(_core: c_uint, place: *mut c_void) {
    // SAFETY: `translated` hands in a leaked `Place`, which is never freed or changed.
    let place = unsafe { &*place.cast::<Place>() };
    with_watch(|watch| watch.executed(place));
}

extern "C" fn stored(_core: c_uint, _kind: u32, address: u64, _data: *mut c_void) {
    with_watch(|watch| watch.stored(address));
}

extern "C" fn translated(_id: Id, block: *mut Tb) {
    // SAFETY: QEMU hands in a block that is valid for this call, and all its instructions exist.
    unsafe {
        for index in 0..qemu::qemu_plugin_tb_n_insns(block) {
            let insn: *mut Insn = qemu::qemu_plugin_tb_get_insn(block, index);
            let address = qemu::qemu_plugin_insn_vaddr(insn);
            let size = qemu::qemu_plugin_insn_size(insn) as u64;
            let mut function = None;
            with_watch(|watch| function = watch.function_at(address));
            let place = Box::leak(Box::new(Place { address, next: address + size, function }));
            let data = std::ptr::from_mut(place).cast::<c_void>();
            qemu::qemu_plugin_register_vcpu_insn_exec_cb(insn, executed, 0, data);
            qemu::qemu_plugin_register_vcpu_mem_cb(insn, stored, 0, qemu::WRITES, data);
        }
    }
}

extern "C" fn ended(_id: Id, _data: *mut c_void) {
    let path = OUT.lock().ok().and_then(|out| out.clone()).unwrap_or_default();
    with_watch(|watch| {
        let written = File::create(&path).and_then(|file| {
            let mut out = BufWriter::new(file);
            out.write_all(watch.told().as_bytes())?;
            out.flush()
        });
        if let Err(error) = written {
            eprintln!("counter: {path}: {error}");
        }
    });
}

/// Where QEMU begins: reads the arguments and asks to be told of every translated block.
///
/// # Safety
/// To be called by QEMU, with `argc` strings in `argv`.
#[unsafe(no_mangle)]
pub(crate) unsafe extern "C" fn qemu_plugin_install(
    id: Id,
    _info: *const Info,
    argc: c_int,
    argv: *const *const c_char,
) -> c_int {
    let count = usize::try_from(argc).unwrap_or(0);
    // SAFETY: QEMU promises that many strings.
    let arguments = (0..count).map(|index| unsafe { CStr::from_ptr(*argv.add(index)) });
    let (mut functions, mut stack, mut out, mut profiles) = (Vec::new(), 0, None, false);
    for argument in arguments.filter_map(|argument| argument.to_str().ok()) {
        let (key, value) = argument.split_once('=').unwrap_or((argument, ""));
        let number = u64::from_str_radix(value.trim_start_matches("0x"), 16);
        match (key, number) {
            ("watch", Ok(address)) => functions.push(address),
            ("stack", Ok(address)) => stack = address,
            ("profile", _) => profiles = true,
            ("out", _) => out = Some(String::from(value)),
            _ => {
                eprintln!("counter: {argument} is not out=FILE, stack=HEX or watch=HEX");
                return 1;
            }
        }
    }
    if out.is_none() || functions.is_empty() {
        eprintln!("counter: out=FILE and at least one watch=HEX are wanted");
        return 1;
    }
    if let (Ok(mut watch), Ok(mut path)) = (WATCH.lock(), OUT.lock()) {
        *watch = Some(Watch::new(functions, stack, profiles));
        *path = out;
    }
    // SAFETY: as QEMU's documentation says: with the id that it gave, while it installs.
    unsafe {
        qemu::qemu_plugin_register_vcpu_tb_trans_cb(id, translated);
        qemu::qemu_plugin_register_atexit_cb(id, ended, std::ptr::null_mut());
    }
    0
}

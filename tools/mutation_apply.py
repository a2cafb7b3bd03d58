"""Put a mutant into modules that are already loaded, in a forked process: no import, no collecting of tests, for each one.

Functions keep their identity and get the altered code; constants and defaults of the module are set wherever they were
imported. What cannot be put in this way (work done once at import) is said, and not counted.
"""

from __future__ import annotations

import gc
import sys
from types import CodeType, FunctionType, ModuleType

from tools.mutants import Mutant, mutated


def apply(mutant: Mutant, source: str) -> bool:
    """Alter the loaded module; return False if the alteration changes nothing that can be reached."""
    module = sys.modules[mutant.module]
    path = str(module.__file__)
    plain = compile(source, path, "exec")
    altered = compile(mutated(source, mutant.number), path, "exec")
    pairs = dict(_altered_functions(plain, altered))
    done = 0
    for function in [found for found in gc.get_objects() if isinstance(found, FunctionType)]:
        code = function.__code__
        new = pairs.get(_name(code)) if code.co_filename == path else None
        if new is not None and code.co_freevars == new.co_freevars:
            function.__code__ = new
            done += 1
    return bool(done) or _set_values(module, altered)


def _altered_functions(plain: CodeType, altered: CodeType) -> list[tuple[tuple[str, int], CodeType]]:
    """Return the outermost functions and methods whose code differs, by name and first line."""
    found: list[tuple[tuple[str, int], CodeType]] = []
    new_parts = [part for part in altered.co_consts if isinstance(part, CodeType)]
    old_parts = [part for part in plain.co_consts if isinstance(part, CodeType)]
    for old, new in zip(old_parts, new_parts, strict=False):
        if old.co_flags & 0x02:  # CO_NEWLOCALS: a function; a class body has it not
            if old != new:
                found.append((_name(old), new))
        else:
            found += _altered_functions(old, new)
    return found


def _name(code: CodeType) -> tuple[str, int]:
    return code.co_qualname, code.co_firstlineno


def _set_values(module: ModuleType, altered: CodeType) -> bool:
    """Run the altered module aside and carry over the values that came out otherwise."""
    aside = ModuleType(module.__name__)
    aside.__file__ = module.__file__
    sys.modules[module.__name__] = aside
    try:
        exec(altered, aside.__dict__)
    finally:
        sys.modules[module.__name__] = module
    done = False
    for name, old in list(vars(module).items()):
        new = vars(aside).get(name)
        if isinstance(old, FunctionType) and isinstance(new, FunctionType):
            done |= _carry_defaults(old, new)
        elif isinstance(old, type) and isinstance(new, type) and old.__module__ == module.__name__:
            done |= _carry_class(old, new)
        elif not name.startswith("__") and _plain(old) and repr(old) != repr(new):
            done = True
            for other in [found for key, found in sys.modules.items() if key.startswith(("subbase", "tests"))]:
                if vars(other).get(name) is old:
                    setattr(other, name, new)
    return done


def _plain(value: object) -> bool:
    """Say whether a value of a module is a constant that its text describes wholly."""
    return isinstance(value, str | int | float | complex | tuple | frozenset | dict) and " at 0x" not in repr(value)


def _carry_class(old: type, new: type) -> bool:
    done = False
    for name, function in list(vars(old).items()):
        other = vars(new).get(name)
        if isinstance(function, FunctionType) and isinstance(other, FunctionType):
            done |= _carry_defaults(function, other)
        elif (
            isinstance(function, int | float | complex)
            and isinstance(other, int | float | complex)
            and function != other
        ):
            setattr(old, name, other)
            done = True
    return done


def _carry_defaults(old: FunctionType, new: FunctionType) -> bool:
    if repr(old.__defaults__) == repr(new.__defaults__) and repr(old.__kwdefaults__) == repr(new.__kwdefaults__):
        return False
    if " at 0x" in repr((old.__defaults__, old.__kwdefaults__)):
        return False
    old.__defaults__, old.__kwdefaults__ = new.__defaults__, new.__kwdefaults__
    return True

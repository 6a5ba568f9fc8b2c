"""The acceptance run: is it complete, and what has changed since an earlier one."""

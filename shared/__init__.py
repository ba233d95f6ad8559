"""What every floor may use: errors, validated sections, file helpers. It knows nothing of machines."""
